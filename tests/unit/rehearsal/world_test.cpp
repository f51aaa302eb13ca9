// The world: a fault that is played bites, what is counted is what happened, and the same seed is
// the same world. The core under it is the real one.
#include "rehearsal/world.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <memory>

namespace tubwarden::rehearsal {
namespace {

constexpr std::size_t kMister = 0, kFan = 1;
constexpr std::size_t kHumidity = index_of(Quantity::humidity);

ActuatorPlan relay(const char* id, Effect effect, double rate, RunLimits limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = limits;
  a.output.id = {"tub", id};
  a.output.network = true;
  return a;
}

/// An empty, leaky tub, that has to be misted about twice a minute.
WorldPlan dry_tub() {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 60.0;
  SensorPlan air;
  air.id = "air";
  air.stale_after = seconds(30);
  QuantitySource humidity;
  humidity.quantity = Quantity::humidity;
  humidity.range_high = 100.0;
  air.quantities = {humidity};
  plan.chamber.sensors = {air};
  plan.chamber.actuators = {
      relay("mister", Effect::humidify, 20.0, {milliseconds(500), seconds(5), seconds(3), 240}),
      relay("fan", Effect::fresh_air, 2.0, default_limits(Effect::fresh_air))};
  PhasePlan phase;
  phase.name = kPhaseFruiting;
  phase.quantities[kHumidity] =
      QuantityPlan{Keep{Keep::Form::between, 70.0, 80.0}, std::nullopt, Duration{0}};
  PhasePlan empty;
  empty.name = kPhaseEmpty;
  auto profile = std::make_shared<Profile>();
  profile->phases = {phase, empty};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile;
  plan.tubs = {tub};
  plan.phases = {{Duration{0}, "tub", kPhaseFruiting}};
  plan.model = parameters_of(Load::empty, 60.0);
  plan.rhythm = {seconds(2)};
  return plan;
}

WorldPlan with(Fault::Kind kind, std::size_t index, Duration from, Duration to) {
  WorldPlan plan = dry_tub();
  plan.faults = {{kind, index, from, to}};
  return plan;
}

bool raised(const World& world, const std::string& cause) {
  return std::any_of(world.alerts().begin(), world.alerts().end(), [&](const AlertChange& a) {
    return a.raised && a.alert.key.cause.find(cause) != std::string::npos;
  });
}

/// Starts of an actuator between two moments of a world that has run up to the first.
int starts_until(World& world, std::size_t actuator, Duration until) {
  const int before = world.statistics().work[actuator].starts;
  world.run(until - world.passed());
  EXPECT_EQ(world.watch().broken_total(), 0u) << world.watch().broken().front();
  return world.statistics().work[actuator].starts - before;
}

TEST(World, KeepsADryTubAndCountsItsWater) {
  World world(dry_tub());
  world.run(hours(1));
  EXPECT_EQ(world.watch().broken_total(), 0u);
  const Statistics& s = world.statistics();
  EXPECT_GT(*s.bands[kHumidity].since_in.of(), 0.8);
  EXPECT_NEAR(static_cast<double>(s.readings), 1800.0, 1.0);
  EXPECT_NEAR(s.mist_g, s.work[kMister].run_s * 20.0 / 3600.0, 1e-6);
  EXPECT_LE(s.work[kMister].starts, 240);
  EXPECT_GT(s.work[kMister].starts, 20);
  // Misted is what the books gained, but for what the room brought and took.
  const Book water = world.model().books().water_g;
  EXPECT_LT(water.net, s.mist_g);
}

TEST(World, CountsOnlyAfterTheRunIn) {
  WorldPlan plan = dry_tub();
  plan.run_in = minutes(30);
  World world(plan);
  world.run(minutes(30));
  EXPECT_EQ(world.statistics().bands[kHumidity].sensed.all, 0.0);
  world.run(minutes(10));
  EXPECT_NEAR(world.statistics().bands[kHumidity].true_s.all, 600.0, 1.5);
}

TEST(World, ADeadSensorStopsTheMisterOnceItIsStale) {
  World world(with(Fault::Kind::sensor_dead, 0, minutes(10), minutes(20)));
  EXPECT_GT(starts_until(world, kMister, minutes(10)), 5);
  world.run(seconds(31));
  EXPECT_EQ(starts_until(world, kMister, minutes(20)), 0);
  EXPECT_EQ(world.level(kMister), kRest);
  EXPECT_TRUE(raised(world, "stale"));
  EXPECT_GT(starts_until(world, kMister, minutes(30)), 5) << "back when the sensor is";
}

TEST(World, AWillStopsTheMisterAtOnce) {
  World world(with(Fault::Kind::sensor_gone, 0, minutes(10), minutes(20)));
  world.run(minutes(10) + milliseconds(1));
  EXPECT_EQ(world.level(kMister), kRest);
  EXPECT_EQ(starts_until(world, kMister, minutes(20)), 0);
}

TEST(World, AnAbsentBrokerRestsEverythingAndItsRetainedWordDrivesNothing) {
  World world(with(Fault::Kind::broker_away, 0, minutes(10), minutes(20)));
  world.run(minutes(10) + seconds(16));  // the lease of an output out of reach
  EXPECT_EQ(world.level(kMister), kRest);
  EXPECT_EQ(starts_until(world, kMister, minutes(20)), 0);
  EXPECT_GT(starts_until(world, kMister, minutes(30)), 5);
}

TEST(World, AnEmptyTankMistsOnPaperOnly) {
  World world(with(Fault::Kind::actuator_dead, kMister, Duration{0}, hours(1)));
  EXPECT_GT(starts_until(world, kMister, hours(1)), 20);
  EXPECT_LT(world.model().truth(Quantity::humidity), 65.0);
  EXPECT_EQ(world.model().air().fog_g, 0.0);
}

TEST(World, AStuckSensorRepeatsItself) {
  World world(with(Fault::Kind::sensor_stuck, 0, minutes(10), minutes(12)));
  world.run(minutes(10) + seconds(5));
  const double then = *world.chamber().air(Instant{})[kHumidity].value;
  world.run(seconds(90));
  EXPECT_EQ(*world.chamber().air(Instant{})[kHumidity].value, then);
  world.run(minutes(1));
  EXPECT_NE(*world.chamber().air(Instant{})[kHumidity].value, then);
}

TEST(World, AnOpenLidLetsTheRoomIn) {
  World world(with(Fault::Kind::lid_open, 0, minutes(10), minutes(12)));
  world.run(minutes(10));
  EXPECT_GT(world.model().truth(Quantity::humidity), 68.0);
  world.run(minutes(2));
  EXPECT_LT(world.model().truth(Quantity::humidity), 60.0);
}

TEST(World, AnUnusableOutputIsToldNothing) {
  World world(with(Fault::Kind::output_unusable, kMister, minutes(10), minutes(20)));
  world.run(minutes(10) + milliseconds(1));
  EXPECT_EQ(world.level(kMister), kRest);
  EXPECT_EQ(starts_until(world, kMister, minutes(20)), 0);
}

TEST(World, AnAbsentDaemonLeavesEverythingSafeAndComesBackByTheRecord) {
  World world(with(Fault::Kind::daemon_away, 0, minutes(10), minutes(20)));
  world.run(minutes(10) + milliseconds(1));
  EXPECT_EQ(world.level(kMister), kRest);
  EXPECT_EQ(starts_until(world, kMister, minutes(20)), 0);
  EXPECT_GT(starts_until(world, kMister, minutes(30)), 5);
  EXPECT_EQ(world.chamber().phase(), kPhaseFruiting);
}

TEST(World, InEmptyNothingRuns) {
  WorldPlan plan = dry_tub();
  plan.phases.push_back({minutes(10), "tub", kPhaseEmpty});
  World world(plan);
  world.run(minutes(10) + milliseconds(1));
  EXPECT_EQ(starts_until(world, kMister, hours(1)), 0);
  EXPECT_EQ(starts_until(world, kFan, hours(1)), 0);
}

}  // namespace
}  // namespace tubwarden::rehearsal
