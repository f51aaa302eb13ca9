// The world around the core: what it rehearses, and that each fault really takes something away.

#include "rehearsal/world.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace tubwarden::rehearsal {
namespace {

enum Part : std::size_t { mister, fan };

/// 60 L, wet casing, 85..90 % in fruiting, a mister of 20 g/h and a fan.
WorldPlan a_tub() {
  WorldPlan plan;
  auto profile = std::make_shared<Profile>();
  PhasePlan fruiting;
  fruiting.name = kPhaseFruiting;
  fruiting.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, 85.0, 90.0}, {}, {}};
  fruiting.quantities[index_of(Quantity::co2)] =
      QuantityPlan{Keep{Keep::Form::below, 0.0, 2000.0}, {}, {}};
  PhasePlan empty;
  empty.name = kPhaseEmpty;
  profile->phases = {fruiting, empty};
  TubPlan tub;
  tub.id = tub.chamber = "tub-1";
  tub.profile = profile;
  plan.tubs = {tub};
  plan.chamber.id = plan.chamber.leader = "tub-1";
  plan.chamber.net_volume.litres = 60.0;
  SensorPlan sensor;
  sensor.id = "air";
  sensor.stale_after = minutes(1);
  for (Quantity q : {Quantity::humidity, Quantity::air_temperature, Quantity::co2}) {
    QuantitySource source;
    source.quantity = q;
    source.range_high = q == Quantity::co2 ? 5000.0 : 100.0;
    sensor.quantities.push_back(source);
  }
  plan.chamber.sensors = {sensor};
  ActuatorPlan mist;
  mist.id = "mister";
  mist.effect = Effect::humidify;
  mist.rate = 20.0;
  mist.limits = {milliseconds(500), seconds(10), seconds(2), 120};
  ActuatorPlan air;
  air.id = "fan";
  air.effect = Effect::fresh_air;
  air.rate = 2.0;
  air.limits = {seconds(10), seconds(10), Duration{0}, 60};
  plan.chamber.actuators = {mist, air};
  plan.room.temperature.fixed = 20.0;
  plan.room.humidity.fixed = 50.0;
  plan.rhythm = {seconds(2)};
  plan.model = parameters_of(Load::pinning, 60.0);
  plan.start = {20.0, 80.0, 420.0, 8 * 3600.0};
  plan.phases = {{Duration{0}, "tub-1", kPhaseFruiting}};
  return plan;
}

void expect_kept(const World& world) {
  EXPECT_EQ(world.watch().broken_total(), 0u)
      << (world.watch().broken().empty() ? "" : world.watch().broken().front());
}

std::size_t alerts_of(const World& world, const std::string& cause, bool raised) {
  return static_cast<std::size_t>(
      std::count_if(world.alerts().begin(), world.alerts().end(), [&](const AlertChange& change) {
        return change.raised == raised && change.alert.key.cause == cause;
      }));
}

TEST(World, ReachesItsBandAndKeepsIt) {
  World world(a_tub());
  world.run(hours(2));
  expect_kept(world);
  const BandTime& time = world.statistics().bands[index_of(Quantity::humidity)];
  ASSERT_TRUE(time.reached);
  EXPECT_LT(*time.reached, minutes(2));
  EXPECT_GT(time.since_in.of().value(), 0.9);
  EXPECT_GT(time.true_s.of().value(), 0.9);
  EXPECT_NEAR(time.true_s.all, 7200.0, 1.0);
}

TEST(World, CountsWhatTheMisterGave) {
  World world(a_tub());
  world.run(hours(2));
  const Statistics& s = world.statistics();
  EXPECT_GT(s.work[mister].starts, 5);
  EXPECT_NEAR(s.mist_g, s.work[mister].run_s * 20.0 / 3600.0, 1e-9);
  EXPECT_EQ(s.mist_g, s.work[mister].amount);
}

TEST(World, CountsAfterTheRunIn) {
  WorldPlan plan = a_tub();
  plan.run_in = hours(1);
  World world(plan);
  world.run(hours(2));
  EXPECT_NEAR(world.statistics().bands[0].true_s.all, 3600.0, 2.0);
  EXPECT_NEAR(world.statistics().bands[0].sensed.all, 1800.0, 2.0);
}

TEST(World, NothingRunsWithoutAPhase) {
  WorldPlan plan = a_tub();
  plan.phases = {};
  World world(plan);
  world.run(hours(1));
  expect_kept(world);
  EXPECT_EQ(world.statistics().work[mister].starts, 0);
  EXPECT_FALSE(world.statistics().bands[0].reached);
}

TEST(World, APhaseThatComesLaterBeginsThen) {
  WorldPlan plan = a_tub();
  plan.phases = {{Duration{0}, "tub-1", kPhaseEmpty}, {minutes(30), "tub-1", kPhaseFruiting}};
  World world(plan);
  world.run(minutes(30));
  EXPECT_EQ(world.statistics().work[mister].starts, 0);
  world.run(minutes(30));
  expect_kept(world);
  EXPECT_EQ(world.chamber().phase(), kPhaseFruiting);
  EXPECT_GT(world.statistics().work[mister].starts, 0);
}

TEST(World, ADeadSensorStopsTheMisterAndAlerts) {
  WorldPlan plan = a_tub();
  plan.faults = {{Fault::Kind::sensor_dead, 0, seconds(20), hours(1)}};
  World world(plan);
  world.run(seconds(85));  // stale a minute after its last word
  const int starts = world.statistics().work[mister].starts;
  EXPECT_GT(starts, 0);
  EXPECT_EQ(world.level(mister), kRest);
  world.run(minutes(58));
  expect_kept(world);
  EXPECT_EQ(world.statistics().work[mister].starts, starts);
  EXPECT_EQ(alerts_of(world, "sensor_air_stale", true), 1u);
  world.run(minutes(30));
  EXPECT_EQ(alerts_of(world, "sensor_air_stale", false), 1u);
  EXPECT_GT(world.statistics().work[mister].starts, starts);
}

TEST(World, ASensorThatSaysItIsGoneStopsTheMisterAtOnce) {
  WorldPlan plan = a_tub();
  plan.start.humidity_pct = 50.0;
  plan.faults = {{Fault::Kind::sensor_gone, 0, seconds(65), minutes(30)}};
  World world(plan);
  world.run(milliseconds(65001));
  const int starts = world.statistics().work[mister].starts;
  EXPECT_EQ(world.level(mister), kRest);
  world.run(minutes(20));
  EXPECT_EQ(world.statistics().work[mister].starts, starts);
  expect_kept(world);
}

TEST(World, AStuckSensorGoesOnSayingItsLastWord) {
  WorldPlan plan = a_tub();
  plan.faults = {{Fault::Kind::sensor_stuck, 0, seconds(10), hours(1)}};
  World world(plan);
  world.run(minutes(30));
  const auto view = world.chamber().air(Instant(hours(1000)) + minutes(30));
  EXPECT_LT(*view[index_of(Quantity::humidity)].value, 86.25) << "still calls for mist";
  EXPECT_GT(world.model().truth(Quantity::humidity), 90.0);
  world.run(hours(1));
  const auto later = world.chamber().air(Instant(hours(1000)) + minutes(90));
  EXPECT_NE(*later[index_of(Quantity::humidity)].value, *view[index_of(Quantity::humidity)].value);
}

TEST(World, NothingRunsInEmpty) {
  WorldPlan plan = a_tub();
  plan.phases.push_back({minutes(10), "tub-1", kPhaseEmpty});
  World world(plan);
  world.run(minutes(10) + milliseconds(1));
  const int starts = world.statistics().work[mister].starts;
  world.run(hours(2));
  EXPECT_EQ(world.statistics().work[mister].starts, starts);
  EXPECT_EQ(world.level(fan), kRest);
  expect_kept(world);
}

TEST(World, ABrokerThatGoesTakesReadingsAndNetworkOutputs) {
  WorldPlan plan = a_tub();
  plan.start.humidity_pct = 50.0;
  plan.chamber.actuators[mister].limits = {milliseconds(500), seconds(10), Duration{0}, 120};
  plan.chamber.actuators[mister].output.network = true;
  plan.chamber.actuators[mister].output.lease = seconds(15);
  plan.faults = {{Fault::Kind::broker_away, 0, seconds(30), minutes(10)}};
  World world(plan);
  world.run(seconds(40));
  EXPECT_EQ(world.level(mister), kRun) << "out of reach, and its will is not due yet";
  world.run(seconds(6));
  EXPECT_EQ(world.level(mister), kRest) << "the broker has sent its will";
  const int starts = world.statistics().work[mister].starts;
  world.run(minutes(9));
  EXPECT_EQ(world.statistics().work[mister].starts, starts);
  world.run(minutes(5));
  EXPECT_GT(world.statistics().work[mister].starts, starts);
  expect_kept(world);
}

TEST(World, AnEmptyTankRunsAndMovesNothing) {
  WorldPlan plan = a_tub();
  plan.model = parameters_of(Load::empty, 60.0);
  plan.faults = {{Fault::Kind::actuator_dead, mister, Duration{0}, hours(2)}};
  World world(plan);
  world.run(hours(1));
  EXPECT_GT(world.statistics().work[mister].starts, 50);
  EXPECT_LT(world.model().truth(Quantity::humidity), 60.0);
  expect_kept(world);
}

TEST(World, AnOpenLidLetsTheRoomIn) {
  WorldPlan plan = a_tub();
  plan.faults = {{Fault::Kind::lid_open, 0, hours(1), hours(1) + minutes(2)}};
  World world(plan);
  world.run(hours(1));
  EXPECT_GT(world.model().truth(Quantity::humidity), 84.0);
  world.run(minutes(2));
  EXPECT_LT(world.model().truth(Quantity::humidity), 65.0);
  world.run(minutes(20));
  EXPECT_GT(world.model().truth(Quantity::humidity), 84.0);
  expect_kept(world);
}

TEST(World, ALostOutputFallsAndWaitsForAFreshCommand) {
  WorldPlan plan = a_tub();
  plan.start.humidity_pct = 50.0;
  plan.chamber.actuators[mister].limits = {milliseconds(500), seconds(10), Duration{0}, 120};
  plan.faults = {{Fault::Kind::output_unusable, mister, seconds(30), seconds(60)}};
  World world(plan);
  world.run(milliseconds(29999));
  EXPECT_EQ(world.level(mister), kRun);
  world.run(milliseconds(2));
  EXPECT_EQ(world.level(mister), kRest);
  world.run(seconds(29));
  EXPECT_EQ(world.level(mister), kRest);
  world.run(seconds(2));
  EXPECT_EQ(world.level(mister), kRun);
  expect_kept(world);
}

TEST(World, ADaemonThatGoesLeavesItsOutputsSafeAndStartsAnew) {
  WorldPlan plan = a_tub();
  plan.start.humidity_pct = 50.0;
  plan.chamber.actuators[mister].limits = {milliseconds(500), seconds(20), Duration{0}, 120};
  plan.faults = {{Fault::Kind::daemon_away, 0, seconds(30), seconds(40)}};
  World world(plan);
  world.run(milliseconds(29999));
  EXPECT_EQ(world.level(mister), kRun);
  world.run(milliseconds(2));
  EXPECT_EQ(world.level(mister), kRest);
  world.run(seconds(29));
  EXPECT_EQ(world.level(mister), kRest) << "a start counts as a stop just now";
  EXPECT_EQ(world.chamber().phase(), kPhaseFruiting) << "the record has it";
  world.run(seconds(5));
  EXPECT_EQ(world.level(mister), kRun);
  expect_kept(world);
}

TEST(World, AReadingBeyondItsSensorsRangeIsRefusedOrAtLeast) {
  WorldPlan plan = a_tub();
  plan.model.sensors[index_of(Quantity::co2)] = {0.0, 0.0, 0.0};
  plan.start.co2_ppm = 9000.0;
  plan.chamber.sensors[0].quantities[0].range_high = 40.0;
  World world(plan);
  world.run(seconds(10));
  EXPECT_GT(world.statistics().refused, 3u);
  const auto view = world.chamber().air(Instant(hours(1000)) + seconds(10));
  EXPECT_TRUE(view[index_of(Quantity::co2)].at_least);
  EXPECT_EQ(view[index_of(Quantity::co2)].value, 5000.0);
}

TEST(World, ASensedRoomIsHeard) {
  WorldPlan plan = a_tub();
  SensorPlan room;
  room.id = "room";
  room.stale_after = minutes(5);
  plan.room.temperature = {{}, room};
  plan.room.humidity = {{}, room};
  plan.start.humidity_pct = 98.0;
  plan.room_rhythm = seconds(60);
  World hears(plan);
  plan.room_rhythm = Duration{0};
  World never(plan);
  hears.run(minutes(10));
  never.run(minutes(10));
  EXPECT_GT(hears.statistics().work[fan].starts, 0) << "too humid, and the room is known drier";
  EXPECT_EQ(never.statistics().work[fan].starts, 0);
}

}  // namespace
}  // namespace tubwarden::rehearsal
