// The tub the demonstration shows: 40 L of air over a wet casing, a mister of 40 g/h and a fan of
// 2 m3/h, held by portions. That plain on and off does not hold it stands here too.
#include <gtest/gtest.h>

#include <memory>

#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kKept = 0.9;   // of the sensed samples, once the band is first reached
constexpr double kPlain = 0.4;  // what plain on and off stays far below

ActuatorPlan output(const char* id, Effect effect, double rate, RunLimits limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = limits;
  a.output.id = {"demo", id};
  a.output.driver = "mqtt_relay";
  a.output.network = true;
  a.output.falls_by_itself_after = seconds(15);
  return a;
}

QuantitySource source(Quantity q, double low, double high) {
  QuantitySource s;
  s.quantity = q;
  s.range_low = low;
  s.range_high = high;
  return s;
}

std::shared_ptr<const Profile> profile(const Band& band) {
  PhasePlan phase;
  phase.name = kPhasePinning;
  phase.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, band.low, band.high}, std::nullopt, Duration{0}};
  auto made = std::make_shared<Profile>();
  made->name = "demo";
  made->phases = {phase};
  return made;
}

/// config/demo: its band, its limits, its room.
struct Demo {
  Band band{85.0, 90.0};
  bool fan = true;
  Control control = Control::portions;
  double start_humidity_pct = 80.0;
};

constexpr double kLitres = 40.0;
constexpr double kRoomCelsius = 17.0;
constexpr double kRoomHumidityPct = 55.0;

WorldPlan world(const Demo& demo, std::uint64_t seed) {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "demo";
  plan.chamber.net_volume.litres = kLitres;
  plan.chamber.control = demo.control;
  SensorPlan air;
  air.id = "air";
  air.quantities = {source(Quantity::humidity, 0.0, 100.0),
                    source(Quantity::air_temperature, -40.0, 80.0)};
  air.stale_after = seconds(30);
  plan.chamber.sensors = {air};
  plan.chamber.actuators = {output("mister", Effect::humidify, 40.0,
                                   {milliseconds(500), seconds(5), milliseconds(1500), 120})};
  if (demo.fan) {
    plan.chamber.actuators.push_back(
        output("fan", Effect::fresh_air, 2.0, {seconds(5), seconds(10), Duration{0}, 120}));
  }
  TubPlan tub;
  tub.id = tub.chamber = "demo";
  tub.profile = profile(demo.band);
  tub.substrate_kg = 5.0;
  plan.tubs = {tub};
  plan.room.temperature.fixed = kRoomCelsius;
  plan.room.humidity.fixed = kRoomHumidityPct;
  plan.phases = {{Duration{0}, "demo", kPhasePinning}};
  plan.model = parameters_of(Load::pinning, kLitres, 5.0);
  plan.room_day.mean_c = plan.start.celsius = kRoomCelsius;
  plan.room_day.humidity_pct = kRoomHumidityPct;
  plan.start.humidity_pct = demo.start_humidity_pct;
  plan.seed = seed;
  plan.rhythm = {seconds(1)};
  return plan;
}

BandTime humidity_after(const Demo& demo, std::uint64_t seed, Duration time) {
  World w(world(demo, seed));
  w.run(time);
  EXPECT_EQ(w.watch().broken_total(), 0u) << w.watch().broken().front();
  return w.statistics().bands[index_of(Quantity::humidity)];
}

class Demonstration : public testing::TestWithParam<std::uint64_t> {};

TEST_P(Demonstration, TheTubAsShippedIsHeldFromAnyStart) {
  for (const double start : {65.0, 70.0, 75.0, 80.0, 85.0}) {
    for (const Duration show : {Duration(seconds(90)), Duration(minutes(10)), Duration(hours(6))}) {
      SCOPED_TRACE(testing::Message() << start << " % at first, " << seconds_of(show) << " s");
      Demo demo;
      demo.start_humidity_pct = start;
      const BandTime humidity = humidity_after(demo, GetParam(), show);
      ASSERT_TRUE(humidity.reached);
      EXPECT_LT(*humidity.reached, seconds(60));
      EXPECT_GE(*humidity.since_in.of(), kKept);
    }
  }
}

TEST_P(Demonstration, PlainOnAndOffDoesNotHoldIt) {
  Demo demo;
  demo.control = Control::hysteresis;
  for (const Duration show : {Duration(minutes(10)), Duration(hours(6))}) {
    const BandTime humidity = humidity_after(demo, GetParam(), show);
    ASSERT_TRUE(humidity.reached);
    EXPECT_LT(*humidity.since_in.of(), kPlain);
  }
}

TEST_P(Demonstration, WithoutAFanTheCasingMakesItTooWetInTime) {
  Demo demo;
  demo.fan = false;
  const BandTime humidity = humidity_after(demo, GetParam(), hours(6));
  ASSERT_TRUE(humidity.reached);
  EXPECT_LT(*humidity.since_in.of(), kKept) << "the mister alone would do: no fan need be shown";
}

INSTANTIATE_TEST_SUITE_P(Seeds, Demonstration, testing::Values(1, 2, 3, 4));

}  // namespace
}  // namespace tubwarden::rehearsal
