#include "core/sensing/decode.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "base/text.hpp"

namespace tubwarden {
namespace {

using State = DecodedQuantity::State;

QuantitySource source(Quantity quantity, std::string at, SensorUnit unit, double low, double high) {
  QuantitySource s;
  s.quantity = quantity;
  s.at = std::move(at);
  s.unit = unit;
  s.range_low = low;
  s.range_high = high;
  return s;
}

/// Humidity, air temperature and CO2 out of one JSON object.
SensorPlan air() {
  SensorPlan plan;
  plan.id = "air";
  plan.quantities = {source(Quantity::humidity, "/rh", SensorUnit::percent, 0, 100),
                     source(Quantity::air_temperature, "/t", SensorUnit::celsius, -40, 85),
                     source(Quantity::co2, "/co2", SensorUnit::ppm, 0, 5000)};
  return plan;
}

/// A bare number in Fahrenheit.
SensorPlan bed() {
  SensorPlan plan;
  plan.id = "bed";
  plan.quantities = {source(Quantity::substrate_temperature, "", SensorUnit::fahrenheit, -40, 85)};
  return plan;
}

Decoded read(const SensorPlan& plan, std::string_view payload) {
  return decode(plan, payload, std::nullopt);
}

TEST(Decode, JsonByPointers) {
  const Decoded decoded = read(air(), R"({"rh":87.5,"t":17,"co2":912,"battery":3.1})");
  EXPECT_EQ(decoded[Quantity::humidity].state, State::taken);
  EXPECT_DOUBLE_EQ(decoded[Quantity::humidity].value, 87.5);
  EXPECT_DOUBLE_EQ(decoded[Quantity::air_temperature].value, 17.0);
  EXPECT_DOUBLE_EQ(decoded[Quantity::co2].value, 912.0);
  EXPECT_EQ(decoded[Quantity::substrate_temperature].state, State::absent);
  EXPECT_FALSE(decoded.whole);
  EXPECT_FALSE(decoded.refused());
  EXPECT_EQ(decoded.age, Duration{0});
}

TEST(Decode, BareNumberInFahrenheit) {
  for (const char* payload : {"75.2", " 75.2\r\n", "7.52e1", "75.20"}) {
    const Decoded decoded = read(bed(), payload);
    ASSERT_EQ(decoded[Quantity::substrate_temperature].state, State::taken) << payload;
    EXPECT_NEAR(decoded[Quantity::substrate_temperature].value, 24.0, 1e-12) << payload;
  }
  EXPECT_DOUBLE_EQ(read(bed(), "-40")[Quantity::substrate_temperature].value, -40.0);
}

TEST(Decode, MissingMemberIsNoReadingAndNoError) {
  const Decoded decoded = read(air(), R"({"rh":87.5})");
  EXPECT_EQ(decoded[Quantity::humidity].state, State::taken);
  EXPECT_EQ(decoded[Quantity::air_temperature].state, State::absent);
  EXPECT_FALSE(decoded.refused());
  const Decoded nothing = read(air(), R"({"battery":3.1})");
  EXPECT_FALSE(nothing.any_taken());
  EXPECT_FALSE(nothing.refused());
  // A bare number has no members; a JSON array is not an object.
  EXPECT_FALSE(read(air(), "87.5").any_taken());
  EXPECT_FALSE(read(air(), "[87.5]").any_taken());
}

TEST(Decode, NotANumberIsRefusedForThatQuantityOnly) {
  for (const char* bad : {"null", "\"87\"", "true", "[87]", "{\"v\":87}"}) {
    const Decoded decoded = read(air(), std::string(R"({"t":17,"rh":)") + bad + "}");
    EXPECT_EQ(decoded[Quantity::humidity].state, State::refused) << bad;
    EXPECT_EQ(decoded[Quantity::humidity].why, Refusal::not_a_number) << bad;
    EXPECT_EQ(decoded[Quantity::air_temperature].state, State::taken) << bad;
    EXPECT_FALSE(decoded.refused()) << "the temperature counts";
  }
}

TEST(Decode, WordsThatCppTakesForNumbersAreRefused) {
  for (const char* bad : {"nan", "NaN", "inf", "-inf", "infinity", "1e999", "-1e999"}) {
    const Decoded decoded = read(bed(), bad);
    EXPECT_EQ(decoded[Quantity::substrate_temperature].state, State::refused) << bad;
    EXPECT_EQ(decoded[Quantity::substrate_temperature].why, Refusal::not_a_number) << bad;
    EXPECT_TRUE(decoded.refused()) << bad;
  }
}

TEST(Decode, NoJsonIsRefusedAsAWhole) {
  for (const char* bad : {"", "   ", "warm", "{\"rh\":87", "75.2 F", "{'rh':87}", "87,5", "0x1F",
                          "{\"rh\":NaN}", "+75", "\xff\xfe"}) {
    const Decoded decoded = read(air(), bad);
    EXPECT_EQ(decoded.whole, Refusal::not_json) << bad;
    EXPECT_TRUE(decoded.refused()) << bad;
    EXPECT_EQ(decoded[Quantity::co2].why, Refusal::not_json) << bad;
    EXPECT_EQ(decoded[Quantity::substrate_temperature].state, State::absent) << bad;
  }
}

TEST(Decode, OutsideTheRangeIsRefused) {
  for (const char* bad : {R"({"rh":100.1})", R"({"rh":-0.1})", R"({"rh":6553.5})"}) {
    const Decoded decoded = read(air(), bad);
    EXPECT_EQ(decoded[Quantity::humidity].state, State::refused) << bad;
    EXPECT_EQ(decoded[Quantity::humidity].why, Refusal::out_of_range) << bad;
  }
  EXPECT_TRUE(read(air(), R"({"rh":100,"t":-40})").any_taken()) << "the ends belong to it";
  // The range is in kept units: 185 F is 85 C.
  EXPECT_TRUE(read(bed(), "185").any_taken());
  EXPECT_TRUE(read(bed(), "185.2").refused());
}

TEST(Decode, Co2AtItsTopMeansAtLeast) {
  EXPECT_FALSE(read(air(), R"({"co2":4999})")[Quantity::co2].at_least);
  const DecodedQuantity top = read(air(), R"({"co2":5000})")[Quantity::co2];
  EXPECT_TRUE(top.at_least);
  EXPECT_DOUBLE_EQ(top.value, 5000.0);
  const DecodedQuantity over = read(air(), R"({"co2":5100})")[Quantity::co2];
  EXPECT_EQ(over.state, State::taken);
  EXPECT_TRUE(over.at_least);
  EXPECT_DOUBLE_EQ(over.value, 5000.0) << "no more is known than the range says";
  const DecodedQuantity code = read(air(), R"({"co2":65535})")[Quantity::co2];
  EXPECT_EQ(code.why, Refusal::out_of_range) << "an error code of the sensor";
  EXPECT_FALSE(read(air(), R"({"rh":100})")[Quantity::humidity].at_least) << "CO2 only";
}

TEST(Decode, ScaleAndOffsetComeBeforeTheUnit) {
  QuantitySource s = source(Quantity::air_temperature, "", SensorUnit::fahrenheit, -40, 85);
  s.scale = 0.1;
  s.offset = 2.0;
  EXPECT_DOUBLE_EQ(kept_value(s, 300), 0.0);  // 300 x 0.1 + 2 = 32 F
  s.unit = SensorUnit::kelvin;
  s.scale = 0.01;
  s.offset = 0;
  EXPECT_NEAR(kept_value(s, 27315), 0.0, 1e-9);
  s.unit = SensorUnit::celsius;
  EXPECT_DOUBLE_EQ(kept_value(s, 1725), 17.25);
  QuantitySource co2 = source(Quantity::co2, "", SensorUnit::percent, 0, 50000);
  EXPECT_DOUBLE_EQ(kept_value(co2, 0.1), 1000.0);  // 0.1 % by volume
  co2.unit = SensorUnit::ppm;
  EXPECT_DOUBLE_EQ(kept_value(co2, 1000), 1000.0);
  const QuantitySource rh = source(Quantity::humidity, "", SensorUnit::percent, 0, 100);
  EXPECT_DOUBLE_EQ(kept_value(rh, 88), 88.0);
}

TEST(Decode, AScaleThatOverflowsIsRefused) {
  SensorPlan plan = bed();
  plan.quantities[0].scale = 1e300;
  EXPECT_EQ(read(plan, "1e300")[Quantity::substrate_temperature].why, Refusal::not_a_number);
}

// RFC 6901 section 5: the document and every pointer of the RFC's own example.
TEST(Decode, PointersOfTheRfc) {
  constexpr std::string_view kDocument =
      R"({"foo":[1.5,2.5],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8})";
  const std::pair<const char*, double> rows[] = {
      {"/foo/0", 1.5}, {"/foo/1", 2.5}, {"/", 0},     {"/a~1b", 1}, {"/c%d", 2}, {"/e^f", 3},
      {"/g|h", 4},     {"/i\\j", 5},    {"/k\"l", 6}, {"/ ", 7},    {"/m~0n", 8}};
  for (const auto& [pointer, value] : rows) {
    SensorPlan plan;
    plan.quantities = {source(Quantity::humidity, pointer, SensorUnit::percent, 0, 100)};
    const Decoded decoded = read(plan, kDocument);
    EXPECT_EQ(decoded[Quantity::humidity].state, State::taken) << pointer;
    EXPECT_DOUBLE_EQ(decoded[Quantity::humidity].value, value) << pointer;
  }
  for (const char* nowhere : {"/foo/2", "/foo/-", "/foo/01", "/foo/x", "/foo/0/y", "/bar", "/foo/",
                              "//", "/A~1b", "/foo/99999999999999999999999"}) {
    SensorPlan plan;
    plan.quantities = {source(Quantity::humidity, nowhere, SensorUnit::percent, 0, 100)};
    const Decoded decoded = read(plan, kDocument);
    EXPECT_EQ(decoded[Quantity::humidity].state, State::absent) << nowhere;
  }
}

TEST(Decode, DeepPathsAreFollowed) {
  SensorPlan plan;
  plan.quantities = {source(Quantity::humidity, "/node/2/air/rh", SensorUnit::percent, 0, 100)};
  EXPECT_DOUBLE_EQ(read(plan, R"({"node":[0,1,{"air":{"rh":91.25}}]})")[Quantity::humidity].value,
                   91.25);
}

TEST(Decode, EscapedTildeThenOneIsNotASlash) {
  SensorPlan plan;  // RFC 6901 section 4: "~01" is "~1", not "/"
  plan.quantities = {source(Quantity::humidity, "/~01", SensorUnit::percent, 0, 100)};
  EXPECT_DOUBLE_EQ(read(plan, R"({"~1":5,"/":6})")[Quantity::humidity].value, 5.0);
}

TEST(Decode, ValidPointers) {
  for (const char* good : {"", "/", "/rh", "/a~0b", "/a~1b", "//", "/0/x"}) {
    EXPECT_TRUE(valid_pointer(good)) << good;
  }
  for (const char* bad : {"rh", "/a~", "/a~2", "~0", "/~~0", "#/rh"}) {
    EXPECT_FALSE(valid_pointer(bad)) << bad;
  }
}

TEST(Decode, SizeAndDepthHaveLimits) {
  std::string long_one = R"({"rh":87,"pad":")";
  long_one += std::string(kReadingBytesMax - long_one.size() - 2, 'x') + "\"}";
  ASSERT_EQ(long_one.size(), kReadingBytesMax);
  EXPECT_TRUE(read(air(), long_one).any_taken());
  EXPECT_EQ(read(air(), long_one + " ").whole, Refusal::too_long);

  const auto nested = [](std::size_t depth) {
    return std::string(depth, '[') + std::string(depth, ']');
  };
  EXPECT_FALSE(read(air(), nested(kReadingDepthMax)).whole);
  EXPECT_EQ(read(air(), nested(kReadingDepthMax + 1)).whole, Refusal::too_deep);
  EXPECT_EQ(read(air(), std::string(kReadingBytesMax, '[')).whole, Refusal::too_deep);
  // Brackets inside strings do not nest, nor does a quote behind a backslash end the string.
  EXPECT_TRUE(
      read(air(), R"({"rh":87,"s":"[[[[[[[[[[[[[[[[[[[[\"{{{{{{{{{{{{{{{{{{{{"})").any_taken());
  EXPECT_TRUE(read(air(), R"({"rh":87,"s":[[],[],[],[],[],[],[],[],[],[],[],[],[],[],[],[],[]]})")
                  .any_taken());
}

// --- the payload's own time ---

WallTime at(const char* text) { return *parse_rfc3339(text); }

Decoded stamped(StampForm form, const std::string& stamp, std::optional<WallTime> now) {
  SensorPlan plan = air();
  plan.time = StampPlan{"/at", form};
  return decode(plan, R"({"rh":87,"at":)" + stamp + "}", now);
}

TEST(DecodeStamp, AgeByEachForm) {
  const WallTime now = at("2026-11-25T10:00:30Z");  // 1795600830 s
  ASSERT_EQ(now.time_since_epoch(), seconds(1795600830));
  EXPECT_EQ(stamped(StampForm::unix_s, "1795600800", now).age, seconds(30));
  EXPECT_EQ(stamped(StampForm::unix_s, "1795600829.25", now).age, milliseconds(750));
  EXPECT_EQ(stamped(StampForm::unix_ms, "1795600800500", now).age, milliseconds(29500));
  EXPECT_EQ(stamped(StampForm::rfc3339, "\"2026-11-25T11:00:00+01:00\"", now).age, seconds(30));
}

TEST(DecodeStamp, AheadByALittleIsNowByMoreArrivalCounts) {
  const WallTime now = at("2026-11-25T10:00:30Z");
  const Decoded little = stamped(StampForm::unix_s, "1795600835", now);
  EXPECT_EQ(little.age, Duration{0});
  EXPECT_FALSE(little.stamp_refused);
  const Decoded far = stamped(StampForm::unix_s, "1795600835.001", now);
  EXPECT_EQ(far.age, Duration{0});
  EXPECT_TRUE(far.stamp_refused);
  EXPECT_TRUE(far.any_taken()) << "the reading itself counts";
}

TEST(DecodeStamp, OurClockUnsetMeansArrivalCounts) {
  const Decoded decoded = stamped(StampForm::unix_s, "1", std::nullopt);
  EXPECT_EQ(decoded.age, Duration{0});
  EXPECT_FALSE(decoded.stamp_refused);
  EXPECT_TRUE(decoded.any_taken());
}

TEST(DecodeStamp, MissingIsArrivalUnreadableIsSaid) {
  const WallTime now = at("2026-11-25T10:00:30Z");
  SensorPlan plan = air();
  plan.time = StampPlan{"/at", StampForm::unix_s};
  EXPECT_FALSE(decode(plan, R"({"rh":87})", now).stamp_refused);
  EXPECT_FALSE(decode(plan, "87", now).stamp_refused);
  for (const char* bad : {"\"noon\"", "null", "1e300", "-1e300", "[]", "1e12"}) {
    const Decoded decoded = stamped(StampForm::unix_s, bad, now);
    EXPECT_TRUE(decoded.stamp_refused) << bad;
    EXPECT_TRUE(decoded.any_taken()) << bad;
  }
  EXPECT_TRUE(stamped(StampForm::rfc3339, "\"25.11.2026\"", now).stamp_refused);
  EXPECT_TRUE(stamped(StampForm::rfc3339, "1795600800", now).stamp_refused);
}

TEST(DecodeStamp, VeryOldStampsStayOldWithoutOverflow) {
  const WallTime now = at("2026-11-25T10:00:30Z");
  EXPECT_GT(stamped(StampForm::unix_s, "0", now).age, hours(24 * 365 * 50));
  EXPECT_GT(stamped(StampForm::unix_s, "-9e10", now).age, hours(24 * 365 * 100));
  EXPECT_GT(stamped(StampForm::rfc3339, "\"0001-01-01T00:00:00Z\"", now).age,
            hours(24 * 365 * 100));
  EXPECT_TRUE(stamped(StampForm::rfc3339, "\"9999-12-31T23:59:59Z\"", now).stamp_refused);
}

// --- counting ---

TEST(RefusalCounts, ByReasonAQuantityEach) {
  RefusalCounts counts;
  counts.count(read(air(), R"({"rh":87})"));
  EXPECT_EQ(counts.total(), 0u);
  counts.count(read(air(), R"({"rh":870,"t":"x"})"));
  counts.count(read(air(), "warm"));
  counts.count(read(air(), std::string(kReadingBytesMax + 1, ' ')));
  counts.count(read(air(), std::string(kReadingDepthMax + 1, '[')));
  EXPECT_EQ(counts.of(Refusal::out_of_range), 1u);
  EXPECT_EQ(counts.of(Refusal::not_a_number), 1u);
  EXPECT_EQ(counts.of(Refusal::not_json), 3u);  // three planned quantities
  EXPECT_EQ(counts.of(Refusal::too_long), 3u);
  EXPECT_EQ(counts.of(Refusal::too_deep), 3u);
  EXPECT_EQ(counts.total(), 11u);
  EXPECT_EQ(counts.stamps(), 0u);
  counts.count(stamped(StampForm::unix_s, "\"noon\"", at("2026-11-25T10:00:30Z")));
  EXPECT_EQ(counts.stamps(), 1u);
}

TEST(RefusalCounts, EachReasonHasAWord) {
  EXPECT_EQ(name_of(Refusal::too_long), "too long");
  EXPECT_EQ(name_of(Refusal::too_deep), "too deep");
  EXPECT_EQ(name_of(Refusal::not_json), "not JSON");
  EXPECT_EQ(name_of(Refusal::not_a_number), "not a number");
  EXPECT_EQ(name_of(Refusal::out_of_range), "out of range");
}

}  // namespace
}  // namespace tubwarden
