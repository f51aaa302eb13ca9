// A mat that fails in a cold room is told before the bed leaves its band; a held tub is told of
// nothing.
#include <gtest/gtest.h>

#include <memory>
#include <string>

#include "rehearsal/dice.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

struct Held {
  Control control;
  Band band;
};
constexpr Held kHeld[] = {{Control::portions, {24.0, 25.5}}, {Control::hysteresis, {21.5, 25.5}}};

/// `late`: the probe may lie in the middle of the bed, where the mat's warmth is late.
WorldPlan bed_world(const Held& held, std::uint64_t seed, bool late) {
  Dice dice(seed);
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 40.0;
  plan.chamber.control = held.control;
  SensorPlan probe;
  probe.id = "bed";
  QuantitySource source;
  source.quantity = Quantity::substrate_temperature;
  probe.quantities.push_back(source);
  plan.chamber.sensors = {probe};
  ActuatorPlan mat;
  mat.id = "mat";
  mat.effect = Effect::heat;
  mat.rate = 15.0;
  mat.limits = default_limits(Effect::heat);
  mat.output.id = {"tub", "mat"};
  plan.chamber.actuators = {mat};
  plan.strengths = {dice.between(0.7, 1.3)};
  PhasePlan phase;
  phase.name = kPhaseColonization;
  Warn warn;
  warn.below = held.band.low;
  warn.on_delay = Duration{0};
  warn.leaving_within = hours(2);
  phase.quantities[index_of(Quantity::substrate_temperature)] =
      QuantityPlan{Keep{Keep::Form::between, held.band.low, held.band.high}, warn, {}};
  auto profile = std::make_shared<Profile>();
  profile->name = "spawn";
  profile->phases = {phase};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile;
  tub.substrate_kg = 5.0;
  plan.tubs = {tub};
  plan.phases = {{Duration{0}, "tub", kPhaseColonization}};
  plan.model = parameters_of(Load::pinning, 40.0, 5.0);
  plan.model.sensors[index_of(Quantity::substrate_temperature)].lag_s =
      late ? dice.between(600.0, 2400.0) : dice.between(30.0, 300.0);
  plan.room_day.mean_c = dice.between(16.0, 19.0);
  plan.start.celsius = 24.5;
  plan.rhythm = {seconds(30)};
  plan.steps.step_s = 5.0;
  plan.seed = seed;
  return plan;
}

std::size_t raised(const World& world, const std::string& cause) {
  std::size_t count = 0;
  for (const AlertChange& a : world.alerts()) count += a.raised && a.alert.key.cause == cause;
  return count;
}

TEST(Drift, AFailedMatInAColdRoomIsToldBeforeTheBedLeavesItsBand) {
  // On and off starts a quarter of the width from the edge, and leaves no time to see what comes.
  for (const Held& held : {kHeld[0]}) {
    for (std::uint64_t seed = 1; seed <= 6; ++seed) {
      WorldPlan plan = bed_world(held, seed, false);
      Fault dead;
      dead.kind = Fault::Kind::actuator_dead;
      dead.from = hours(30);
      dead.to = hours(60);
      plan.faults = {dead};
      World world(plan);
      world.run(hours(30));
      EXPECT_EQ(raised(world, "substrate_temperature_leaving"), 0u) << "held, seed " << seed;
      double bed = 0.0;
      for (int i = 0; i < 12 * 60 && !raised(world, "substrate_temperature_leaving"); ++i) {
        world.run(minutes(1));
        bed = world.model().truth(Quantity::substrate_temperature);
      }
      const double lag_s = plan.model.sensors[index_of(Quantity::substrate_temperature)].lag_s;
      const std::string which = "seed " + std::to_string(seed) + ", " +
                                std::string(name_of(held.control)) + ", lag " +
                                std::to_string(lag_s) + " s, bed " + std::to_string(bed);
      EXPECT_EQ(raised(world, "substrate_temperature_leaving"), 1u) << which;
      EXPECT_GT(bed, held.band.low) << which;
      EXPECT_EQ(raised(world, "substrate_temperature_low"), 0u) << which;
    }
  }
}

TEST(Drift, AHeldBedIsToldOfNothingForAWeek) {
  for (const Held& held : kHeld) {
    for (std::uint64_t seed = 1; seed <= 8; ++seed) {
      World world(bed_world(held, seed, seed % 2 == 0));
      world.run(hours(7 * 24));
      EXPECT_EQ(raised(world, "substrate_temperature_leaving"), 0u)
          << seed << name_of(held.control);
    }
  }
}

}  // namespace
}  // namespace tubwarden::rehearsal
