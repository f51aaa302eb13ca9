// A small tub by portions and by plain on and off: the same model, sensor and seed.
#include <gtest/gtest.h>

#include <algorithm>
#include <memory>

#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kWarnAbove = 95.0;  // the shipped profile's, in fruiting

struct Tub {
  Load load = Load::empty;
  Control control = Control::portions;
  double step = 0.1;
  Duration every = seconds(5);
  std::vector<Fault> faults{};
};

ActuatorPlan output(const char* id, Effect effect, double rate, RunLimits limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = limits;
  a.output.id = {"tub", id};
  return a;
}

WorldPlan world_of(const Tub& tub, std::uint64_t seed) {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 40.0;
  plan.chamber.control = tub.control;
  SensorPlan air;
  air.id = "air";
  for (Quantity q : {Quantity::humidity, Quantity::air_temperature, Quantity::co2}) {
    QuantitySource source;
    source.quantity = q;
    if (q == Quantity::humidity) source.step = tub.step;
    air.quantities.push_back(source);
  }
  plan.chamber.sensors = {air};
  plan.chamber.actuators = {
      output("mister", Effect::humidify, 40.0, {milliseconds(500), seconds(10), seconds(5), 180}),
      output("fan", Effect::fresh_air, 2.0, {seconds(3), seconds(10), Duration{0}, 120})};
  PhasePlan phase;
  phase.name = kPhaseFruiting;
  phase.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, 85.0, 90.0}, std::nullopt, {}};
  phase.quantities[index_of(Quantity::co2)] =
      QuantityPlan{Keep{Keep::Form::below, 0.0, 1000.0}, std::nullopt, {}};
  phase.fresh_air = FreshAirFloor{1.0, minutes(15)};
  auto profile = std::make_shared<Profile>();
  profile->name = "small";
  profile->phases = {phase};
  TubPlan standing;
  standing.id = standing.chamber = "tub";
  standing.profile = profile;
  plan.tubs = {standing};
  plan.room.temperature.fixed = 20.0;
  plan.room.humidity.fixed = 50.0;
  plan.phases = {{Duration{0}, "tub", kPhaseFruiting}};
  plan.model = parameters_of(tub.load, 40.0, 5.0);
  plan.model.sensors[index_of(Quantity::humidity)].quantum = tub.step;
  plan.rhythm = {tub.every};
  plan.seed = seed;
  plan.run_in = hours(2);
  plan.faults = tub.faults;
  return plan;
}

double in_band(const Tub& tub, std::uint64_t seed) {
  World world(world_of(tub, seed));
  world.run(hours(14));
  EXPECT_EQ(world.watch().broken_total(), 0u) << world.watch().broken().front();
  return world.statistics().all_true_s.of().value_or(0.0);
}

class Portions : public testing::TestWithParam<Load> {};

TEST_P(Portions, KeepTheAirWhereOnAndOffDoesNot) {
  const double portions = in_band({GetParam()}, 1);
  const double plain = in_band({GetParam(), Control::hysteresis}, 1);
  EXPECT_GE(portions, GetParam() == Load::flush ? 0.8 : 0.9);
  EXPECT_LE(plain, portions - 0.25);
  RecordProperty("portions_pct", std::to_string(100.0 * portions));
  RecordProperty("plain_pct", std::to_string(100.0 * plain));
}

TEST_P(Portions, DoseByACoarseAndSlowSensorToo) {
  Tub coarse{GetParam(), Control::portions, 1.0, seconds(30), {}};
  const double portions = in_band(coarse, 2);
  coarse.control = Control::hysteresis;
  const double plain = in_band(coarse, 2);
  EXPECT_GT(portions, plain + 0.1) << "plain " << plain;
}

TEST_P(Portions, AFilledTankDoesNotFloodTheTub) {
  Tub tub{GetParam()};
  Fault empty;
  empty.kind = Fault::Kind::actuator_dead;
  empty.index = 0;
  empty.from = hours(6);
  empty.to = hours(12);
  tub.faults = {empty};
  for (std::uint64_t seed : {1u, 2u, 3u}) {
    World world(world_of(tub, seed));
    world.run(hours(12));
    const double dry = world.model().truth(Quantity::humidity);
    double highest = 0.0;
    for (int i = 0; i < 6 * 720; ++i) {
      world.run(seconds(5));
      const auto value = world.chamber().air(Instant{})[index_of(Quantity::humidity)].value;
      highest = std::max(highest, value.value_or(0.0));
    }
    EXPECT_TRUE(GetParam() != Load::empty || dry < 80.0) << "the tank was empty";
    EXPECT_LE(highest, kWarnAbove) << "seed " << seed;
    EXPECT_GE(highest, 85.0) << "it mists again";
  }
}

INSTANTIATE_TEST_SUITE_P(Loads, Portions, testing::Values(Load::empty, Load::pinning, Load::flush),
                         [](const auto& load) { return std::string(name_of(load.param)); });

}  // namespace
}  // namespace tubwarden::rehearsal
