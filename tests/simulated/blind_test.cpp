// The humidity sensor dies for six hours: drawn empty, leaky tubs by their blind rule, against the
// same ones that stand safe.
#include <gtest/gtest.h>

#include <algorithm>
#include <memory>
#include <vector>

#include "core/climate/blind_rule.hpp"
#include "rehearsal/dice.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

WorldPlan world_of(BlindRule rule, std::uint64_t seed) {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 40.0;
  SensorPlan air;
  air.id = "air";
  for (Quantity q : {Quantity::humidity, Quantity::air_temperature}) {
    QuantitySource source;
    source.quantity = q;
    source.step = 0.1;
    air.quantities.push_back(source);
  }
  plan.chamber.sensors = {air};
  ActuatorPlan mister;
  mister.id = "mister";
  mister.effect = Effect::humidify;
  mister.rate = 40.0;
  mister.limits = {milliseconds(500), seconds(10), seconds(5), 180};
  mister.blind = rule;
  mister.output.id = {"tub", "mister"};
  plan.chamber.actuators = {mister};
  PhasePlan phase;
  phase.name = kPhaseFruiting;
  phase.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, 85.0, 90.0}, std::nullopt, {}};
  auto profile = std::make_shared<Profile>();
  profile->name = "small";
  profile->phases = {phase};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile;
  plan.tubs = {tub};
  plan.room.temperature.fixed = 20.0;
  plan.room.humidity.fixed = 50.0;
  plan.phases = {{Duration{0}, "tub", kPhaseFruiting}};
  plan.model = parameters_of(Load::empty, 40.0, 5.0);
  plan.rhythm = {seconds(5)};
  plan.seed = seed;
  Fault dead;
  dead.kind = Fault::Kind::sensor_dead;
  dead.from = hours(13);
  dead.to = hours(19);
  plan.faults = {dead};
  return plan;
}

/// Drawn as tests/bench/climate draws: what a grower knows is nominal, what is there is not.
WorldPlan drawn(BlindRule rule, std::uint64_t seed) {
  Dice dice(seed);
  WorldPlan plan = world_of(rule, seed);
  plan.strengths = {dice.between(0.6, 1.4)};
  plan.model.tub.leak_per_h *= dice.between(0.6, 1.6);
  plan.room_day = {dice.between(18.0, 22.0), dice.between(0.5, 3.0), dice.between(0.0, 24.0),
                   dice.between(40.0, 60.0), 450.0};
  return plan;
}

constexpr Duration kDead = hours(13);  ///< when the sensor dies
constexpr double kWarnAbove = 95.0;

struct Blind {
  double off = 0.0;  ///< % RH from the band, the mean of the true air
  double highest = 0.0;
  double run_share = 0.0;   ///< of the blind time
  double ran_before = 0.0;  ///< share of the time before
};

double ran_s(const World& world) { return world.statistics().work[0].run_s; }

Blind while_dead(const WorldPlan& plan) {
  World world(plan);
  world.run(kDead + minutes(15));
  Blind blind;
  const double before = ran_s(world);
  blind.ran_before = before / seconds_of(kDead);
  constexpr int kMinutes = 345;
  for (int minute = 0; minute < kMinutes; ++minute) {
    world.run(minutes(1));
    const double value = world.model().truth(Quantity::humidity);
    blind.off += std::max({0.0, 85.0 - value, value - 90.0}) / kMinutes;
    blind.highest = std::max(blind.highest, value);
  }
  blind.run_share = (ran_s(world) - before) / (60.0 * kMinutes);
  world.run(hours(1));
  EXPECT_GT(world.model().truth(Quantity::humidity), 83.0) << "the sensor speaks again";
  EXPECT_EQ(world.watch().broken_total(), 0u) << world.watch().broken().front();
  return blind;
}

TEST(BlindRuleOfATub, KeepsTheAirNearerItsBandThanRestAndDoesNotFloodIt) {
  constexpr int kDraws = 11;
  std::vector<double> better;
  int dry_enough = 0;
  for (std::uint64_t seed = 1; seed <= kDraws; ++seed) {
    const Blind duty = while_dead(drawn(BlindRule::duty, seed));
    const Blind safe = while_dead(drawn(BlindRule::safe, seed));
    EXPECT_EQ(safe.run_share, 0.0);
    EXPECT_GT(duty.run_share, 0.0) << seed;
    // A run may be under way at either end of what is counted.
    EXPECT_LE(duty.run_share, std::min(kBlindShareMost, kBlindWaterShare * duty.ran_before) + 0.005)
        << seed;
    better.push_back(safe.off - duty.off);
    dry_enough += duty.highest <= kWarnAbove ? 1 : 0;
  }
  std::sort(better.begin(), better.end());
  EXPECT_GT(better[kDraws / 2], 5.0) << "% RH nearer, in the median";
  EXPECT_GT(better.front(), 0.0) << "worse than standing safe in none";
  EXPECT_GE(dry_enough, kDraws - 1);
}

TEST(BlindRuleOfATub, EndsAfterHalfADay) {
  WorldPlan plan = world_of(BlindRule::duty, 1);
  plan.faults[0].to = kDead + hours(20);
  World world(plan);
  world.run(kDead + hours(11));
  const double early = ran_s(world);
  world.run(minutes(50));
  EXPECT_GT(ran_s(world), early);
  world.run(minutes(30));
  const double late = ran_s(world);
  world.run(hours(4));
  EXPECT_EQ(ran_s(world), late);
}

}  // namespace
}  // namespace tubwarden::rehearsal
