// Faults by their names, and those that act on the daemon, its clock and what its sensors show;
// hands in a rehearsed tub.

#include <gtest/gtest.h>

#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

enum Part : std::size_t { mister, fan, lamp };
constexpr Instant kStart{hours(1000)};  // of every world

ActuatorPlan part(const char* id, Effect effect, double rate) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = {seconds(1), seconds(1), Duration{0}, 0};
  a.output.lease = seconds(6);
  return a;
}

/// Dry air in a leaky tub, and a mister too weak to lift it: it runs throughout, by hysteresis.
WorldPlan a_dry_tub() {
  WorldPlan plan;
  auto profile = std::make_shared<Profile>();
  PhasePlan fruiting;
  fruiting.name = kPhaseFruiting;
  fruiting.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, 85.0, 90.0}, {}, {}};
  fruiting.light = LightHours{12 * 60, 18 * 60};
  profile->phases = {fruiting};
  TubPlan tub;
  tub.id = tub.chamber = plan.chamber.id = plan.chamber.leader = "tub-1";
  tub.profile = profile;
  plan.tubs = {tub};
  plan.chamber.net_volume.litres = 60.0;
  plan.chamber.control = Control::hysteresis;
  SensorPlan sensor;
  sensor.id = "air";
  for (Quantity q : {Quantity::humidity, Quantity::air_temperature}) {
    QuantitySource source;
    source.quantity = q;
    source.range_high = 100.0;
    sensor.quantities.push_back(source);
  }
  plan.chamber.sensors = {sensor};
  plan.chamber.actuators = {part("mister", Effect::humidify, 1.0),
                            part("fan", Effect::fresh_air, 2.0), part("lamp", Effect::light, 5.0)};
  plan.rhythm = {seconds(2)};
  plan.model = parameters_of(Load::empty, 60.0);
  plan.start = {20.0, 60.0, 420.0, 8 * 3600.0};
  plan.phases = {{Duration{0}, "tub-1", kPhaseFruiting}};
  return plan;
}

Fault fault(Fault::Kind kind, Duration from, Duration to, double amount = 0.0) {
  return {kind, 0, from, to, amount, {}};
}

double shown(const World& world, Quantity q) {
  return world.chamber().air(kStart + world.passed())[index_of(q)].value.value_or(-1.0);
}

void expect_kept(const World& world) {
  EXPECT_EQ(world.watch().broken_total(), 0u)
      << (world.watch().broken().empty() ? "" : world.watch().broken().front());
}

TEST(Fault, IsFoundByItsName) {
  using Kind = Fault::Kind;
  for (Kind kind : {Kind::sensor_dead, Kind::sensor_gone, Kind::sensor_stuck, Kind::broker_away,
                    Kind::actuator_dead, Kind::lid_open, Kind::output_unusable, Kind::daemon_away,
                    Kind::daemon_hung, Kind::sensor_drifting, Kind::clock_jump}) {
    EXPECT_EQ(fault_named(name_of(kind)), kind) << name_of(kind);
  }
  EXPECT_EQ(fault_named("tank_empty"), Kind::actuator_dead);
  EXPECT_EQ(fault_named("fan_dead"), Kind::actuator_dead);
  EXPECT_EQ(fault_named("broker_gone"), Kind::broker_away);
  EXPECT_EQ(fault_named("restart"), Kind::daemon_away);
  EXPECT_FALSE(fault_named("sensor"));
  EXPECT_FALSE(fault_named(""));
}

TEST(Fault, KnowsWhatItIsOf) {
  EXPECT_EQ(place_of(Fault::Kind::sensor_drifting), FaultOf::sensor);
  EXPECT_EQ(place_of(Fault::Kind::actuator_dead), FaultOf::actuator);
  EXPECT_EQ(place_of(Fault::Kind::daemon_hung), FaultOf::world);
}

TEST(World, ADriftingSensorLeavesTheTruthAndComesBack) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::sensor_drifting, minutes(10), minutes(70), 12.0)};
  World world(plan);
  world.run(minutes(9));
  EXPECT_NEAR(shown(world, Quantity::humidity), world.model().truth(Quantity::humidity), 1.0);
  world.run(minutes(31));
  EXPECT_NEAR(shown(world, Quantity::humidity), world.model().truth(Quantity::humidity) + 6.0, 1.0);
  EXPECT_NEAR(shown(world, Quantity::air_temperature),
              world.model().truth(Quantity::air_temperature), 0.2)
      << "another quantity than the sensor's first";
  world.run(minutes(31));
  EXPECT_NEAR(shown(world, Quantity::humidity), world.model().truth(Quantity::humidity), 1.0);
}

TEST(World, AQuantityIsNamedThatDrifts) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::sensor_drifting, minutes(1), hours(2), -3.0)};
  plan.faults[0].quantity = Quantity::air_temperature;
  World world(plan);
  world.run(minutes(61));
  EXPECT_NEAR(shown(world, Quantity::air_temperature),
              world.model().truth(Quantity::air_temperature) - 3.0, 0.2);
  EXPECT_NEAR(shown(world, Quantity::humidity), world.model().truth(Quantity::humidity), 1.0);
}

TEST(World, TheOutputsOfAHungDaemonFallWithinTheirLeaseAndItGoesOn) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::daemon_hung, minutes(10), minutes(20))};
  World world(plan);
  world.run(minutes(10) - seconds(1));
  ASSERT_EQ(world.level(mister), kRun);
  world.run(seconds(3));
  EXPECT_EQ(world.level(mister), kRun) << "on loan still";
  world.run(seconds(5));
  EXPECT_EQ(world.level(mister), kRest);
  const auto turns = world.statistics().turns;
  world.run(minutes(9));
  EXPECT_EQ(world.statistics().turns, turns);
  world.run(minutes(2));
  EXPECT_EQ(world.level(mister), kRun);
  expect_kept(world);
}

TEST(World, APhaseThatIsToldToAHungDaemonIsHeardAfterwards) {
  WorldPlan plan = a_dry_tub();
  plan.phases = {{minutes(5), "tub-1", kPhaseFruiting}};
  plan.faults = {fault(Fault::Kind::daemon_hung, minutes(4), minutes(6))};
  World world(plan);
  world.run(minutes(6) - seconds(1));
  EXPECT_EQ(world.chamber().phase(), "");
  world.run(seconds(2));
  EXPECT_EQ(world.chamber().phase(), kPhaseFruiting);
  expect_kept(world);
}

TEST(World, AWallClockThatJumpsMovesTheLightOnly) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::clock_jump, hours(1), hours(2), 5 * 3600.0)};
  World world(plan);
  world.run(minutes(59));
  EXPECT_EQ(world.level(lamp), kRest);
  world.run(minutes(2));
  EXPECT_EQ(world.level(lamp), kRun) << "9 h is 14 h";
  EXPECT_EQ(world.level(mister), kRun);
  world.run(hours(1));
  EXPECT_EQ(world.level(lamp), kRest) << "set right";
  world.run(hours(2));
  EXPECT_EQ(world.level(lamp), kRun) << "by itself, at noon";
  expect_kept(world);
}

TEST(World, AClockMayJumpBackOverMidnight) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::clock_jump, hours(1), hours(2), -18 * 3600.0)};
  World world(plan);
  world.run(minutes(61));
  EXPECT_EQ(world.level(lamp), kRun) << "9 h is 15 h of the day before";
}

TEST(World, HandsInTheTubRestWhatRunsUntilTheyLeave) {
  WorldPlan plan = a_dry_tub();
  plan.hands = {{minutes(10), minutes(5), HandKind::attend, 0, kRest}};
  World world(plan);
  world.run(minutes(10) - seconds(1));
  ASSERT_EQ(world.level(mister), kRun);
  world.run(seconds(2));
  EXPECT_EQ(world.level(mister), kRest);
  world.run(minutes(4));
  EXPECT_EQ(world.level(mister), kRest);
  world.run(minutes(1) + seconds(5));
  EXPECT_EQ(world.level(mister), kRun);
  expect_kept(world);
}

TEST(World, AHandHoldsOneOutputOverARestart) {
  WorldPlan plan = a_dry_tub();
  plan.hands = {{minutes(10), minutes(10), HandKind::keep_at, fan, kRun},
                {minutes(11), minutes(10), HandKind::keep_at, mister, kRest}};
  plan.faults = {fault(Fault::Kind::daemon_away, minutes(12), minutes(13))};
  World world(plan);
  world.run(minutes(12) - seconds(1));
  EXPECT_EQ(world.level(fan), kRun);
  EXPECT_EQ(world.level(mister), kRest);
  world.run(seconds(30));
  EXPECT_EQ(world.level(fan), kRest);
  world.run(minutes(2));
  EXPECT_EQ(world.level(fan), kRun) << "the record knows of it";
  EXPECT_EQ(world.level(mister), kRest);
  world.run(minutes(7));
  EXPECT_EQ(world.level(fan), kRest);
  EXPECT_EQ(world.level(mister), kRun);
  expect_kept(world);
}

TEST(World, WhatIsTriedRunsOnceForItsTime) {
  WorldPlan plan = a_dry_tub();
  plan.hands = {{minutes(10), seconds(3), HandKind::trial, fan, kRun}};
  World world(plan);
  world.run(minutes(10) + seconds(2));
  EXPECT_EQ(world.level(fan), kRun);
  world.run(seconds(2));
  EXPECT_EQ(world.level(fan), kRest);
  EXPECT_EQ(world.statistics().work[fan].starts, 1);
  EXPECT_NEAR(world.statistics().work[fan].run_s, 3.0, 1e-6);
  expect_kept(world);
}

TEST(World, AnActuatorMovesItsShareOfItsRate) {
  WorldPlan weak = a_dry_tub();
  weak.strengths = {0.5};
  World world(weak);
  world.run(minutes(30));
  EXPECT_NEAR(world.statistics().mist_g, world.statistics().work[mister].run_s * 0.5 / 3600.0,
              1e-9);
  EXPECT_GT(world.statistics().mist_g, 0.2);
}

TEST(World, ADeadTimeShowsTheTruthLater) {
  WorldPlan plan = a_dry_tub();
  plan.faults = {fault(Fault::Kind::lid_open, minutes(10), minutes(20))};
  for (auto& sensor : plan.model.sensors) sensor = {0.0, 0.0, 0.0, 40.0};
  World world(plan);
  world.run(minutes(10));
  const double before = world.model().lagged(Quantity::humidity);
  world.run(seconds(39));
  EXPECT_NEAR(world.model().lagged(Quantity::humidity), before, 1.0);
  const double after = world.model().truth(Quantity::humidity);
  EXPECT_LT(after, before - 5.0);
  world.run(seconds(40));
  EXPECT_NEAR(world.model().lagged(Quantity::humidity), after, 0.5);
}

}  // namespace
}  // namespace tubwarden::rehearsal
