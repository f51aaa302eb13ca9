// A payload built from a plan, decoded by the same plan, is the value it was built from.
#include "rehearsal/payload.hpp"

#include <gtest/gtest.h>

#include "core/sensing/decode.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr WallTime kWall{milliseconds(1764068400250)};  // 2025-11-25T11:00:00.250Z

QuantitySource source(Quantity q, const std::string& at, SensorUnit unit, double scale = 1.0,
                      double offset = 0.0) {
  QuantitySource s;
  s.quantity = q;
  s.at = at;
  s.unit = unit;
  s.scale = scale;
  s.offset = offset;
  s.range_low = -100.0;
  s.range_high = 100000.0;
  return s;
}

TEST(Payload, OneWholeDocumentIsAPlainNumber) {
  const QuantitySource f = source(Quantity::substrate_temperature, "", SensorUnit::fahrenheit);
  EXPECT_EQ(*payload_of({{&f, 25.0}}, std::nullopt, kWall), "77");
  const QuantitySource half = source(Quantity::humidity, "", SensorUnit::percent, 0.5, 10.0);
  EXPECT_EQ(*payload_of({{&half, 87.25}}, std::nullopt, kWall), "154.5");
}

TEST(Payload, MembersStandAtTheirPointers) {
  const QuantitySource rh = source(Quantity::humidity, "/air/rh", SensorUnit::percent);
  const QuantitySource t = source(Quantity::air_temperature, "/air/t~1C", SensorUnit::celsius);
  EXPECT_EQ(*payload_of({{&rh, 87.2}, {&t, 16.9}}, std::nullopt, kWall),
            R"({"air":{"rh":87.2,"t/C":16.9}})");
  const QuantitySource first = source(Quantity::humidity, "/0", SensorUnit::percent);
  EXPECT_EQ(*payload_of({{&first, 50.0}}, std::nullopt, kWall), "[50.0]");
}

TEST(Payload, EveryUnitScaleAndStampComesBackByDecoding) {
  SensorPlan plan;
  plan.quantities = {
      source(Quantity::humidity, "/rh", SensorUnit::percent, 0.01, -3.0),
      source(Quantity::air_temperature, "/k", SensorUnit::kelvin),
      source(Quantity::substrate_temperature, "/f", SensorUnit::fahrenheit, 0.1, 1.5),
      source(Quantity::co2, "/pct", SensorUnit::percent),
  };
  const double kept[] = {87.25, 16.9, 24.75, 843.0};
  for (StampForm form : {StampForm::unix_s, StampForm::unix_ms, StampForm::rfc3339}) {
    plan.time = StampPlan{"/at", form};
    std::vector<Said> said;
    for (std::size_t i = 0; i < 4; ++i) said.push_back({&plan.quantities[i], kept[i]});
    const auto payload = payload_of(said, plan.time, kWall);
    ASSERT_TRUE(payload.ok());
    const Decoded decoded = decode(plan, *payload, kWall + milliseconds(3000));
    EXPECT_FALSE(decoded.stamp_refused) << *payload;
    EXPECT_NEAR(seconds_of(decoded.age), 3.0, 0.002) << *payload;
    for (std::size_t i = 0; i < 4; ++i) {
      const DecodedQuantity& q = decoded[plan.quantities[i].quantity];
      ASSERT_EQ(q.state, DecodedQuantity::State::taken) << *payload;
      EXPECT_NEAR(q.value, kept[i], 1e-3) << *payload;
    }
  }
}

TEST(Payload, PointersThatCannotShareADocumentAreRefused) {
  const QuantitySource whole = source(Quantity::humidity, "/a", SensorUnit::percent);
  const QuantitySource inside = source(Quantity::air_temperature, "/a/t", SensorUnit::celsius);
  EXPECT_FALSE(payload_of({{&whole, 1.0}, {&inside, 2.0}}, std::nullopt, kWall).ok());
  EXPECT_FALSE(payload_of({{&whole, 1.0}, {&whole, 2.0}}, std::nullopt, kWall).ok());
}

TEST(Payload, ARelayHearsItsTwoPayloadsAndNothingElse) {
  OutputPlan output;
  output.wiring_json = R"({"topic":"c/m","run":"ON","rest":"OFF","confirm":"c/m/now"})";
  const auto relay = relay_wiring(output);
  ASSERT_TRUE(relay.ok());
  EXPECT_EQ(relay->level_of("ON"), kRun);
  EXPECT_EQ(relay->level_of("OFF"), kRest);
  EXPECT_EQ(relay->level_of("on"), std::nullopt);
  EXPECT_EQ(relay->confirm, "c/m/now");
  EXPECT_EQ(relay->payload_of(kRun), "ON");
  for (const char* bad : {"", "[]", R"({"topic":"c/m"})", R"({"run":"1","rest":"0"})"}) {
    output.wiring_json = bad;
    EXPECT_FALSE(relay_wiring(output).ok()) << bad;
  }
}

}  // namespace
}  // namespace tubwarden::rehearsal
