// An actuator that runs and moves nothing is told, and one that works never is: an empty tank, a
// dead fan, a cold mat, against tubs of three loads in which all is well.
#include <gtest/gtest.h>

#include <algorithm>
#include <memory>
#include <string>

#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {
namespace {

enum Output : std::size_t { mister, fan, mat };

struct Grow {
  Load load = Load::empty;
  Control control = Control::portions;
  double room_celsius = 20.0;
  std::vector<Fault> faults{};
  std::uint64_t seed = 1;
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

SensorPlan sensor(const char* id, std::vector<Quantity> quantities) {
  SensorPlan s;
  s.id = id;
  for (Quantity q : quantities) {
    QuantitySource source;
    source.quantity = q;
    if (q != Quantity::co2) source.step = 0.1;
    s.quantities.push_back(source);
  }
  s.stale_after = minutes(5);
  return s;
}

std::shared_ptr<const Profile> profile_of(const Grow& grow) {
  PhasePlan phase;
  phase.name = kPhaseFruiting;
  const auto keep = [&](Quantity q, Keep k) {
    phase.quantities[index_of(q)] = QuantityPlan{k, {}, {}};
  };
  keep(Quantity::humidity, {Keep::Form::between, 85.0, 90.0});
  keep(Quantity::co2, {Keep::Form::below, 0.0, 1000.0});
  if (grow.load != Load::empty) {
    keep(Quantity::substrate_temperature, {Keep::Form::between, 21.0, 22.0});
  }
  phase.fresh_air = FreshAirFloor{1.0, minutes(15)};
  auto profile = std::make_shared<Profile>();
  profile->name = "small";
  profile->phases = {phase};
  return profile;
}

WorldPlan world_of(const Grow& grow) {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 40.0;
  plan.chamber.control = grow.control;
  plan.chamber.sensors = {
      sensor("air", {Quantity::humidity, Quantity::air_temperature, Quantity::co2}),
      sensor("bed", {Quantity::substrate_temperature})};
  plan.chamber.actuators = {
      output("mister", Effect::humidify, 40.0, {milliseconds(500), seconds(10), seconds(5), 180}),
      output("fan", Effect::fresh_air, 2.0, {seconds(3), seconds(10), Duration{0}, 120}),
      output("mat", Effect::heat, 15.0, {minutes(1), minutes(1), Duration{0}, 20})};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile_of(grow);
  tub.substrate_kg = 5.0;
  plan.tubs = {tub};
  plan.room.temperature.fixed = grow.room_celsius;
  plan.room.humidity.fixed = 50.0;
  plan.room_day.mean_c = plan.start.celsius = grow.room_celsius;
  plan.room_day.humidity_pct = 50.0;
  plan.phases = {{Duration{0}, "tub", kPhaseFruiting}};
  plan.model = parameters_of(grow.load, 40.0, 5.0);
  plan.rhythm = {seconds(5), seconds(30)};
  plan.seed = grow.seed;
  plan.faults = grow.faults;
  return plan;
}

/// "raised CAUSE" and "returned CAUSE" of all alerts about effects, in order.
std::vector<std::string> told(const World& world, std::size_t from = 0) {
  std::vector<std::string> all;
  for (std::size_t i = from; i < world.alerts().size(); ++i) {
    const AlertChange& a = world.alerts()[i];
    if (a.alert.key.cause.find("_no_effect") == std::string::npos) continue;
    all.push_back((a.raised ? "raised " : "returned ") + a.alert.key.cause);
  }
  return all;
}

std::string last_text(const World& world) {
  std::string text;
  for (const AlertChange& a : world.alerts()) {
    if (a.raised && a.alert.key.cause.find("_no_effect") != std::string::npos) text = a.alert.text;
  }
  return text;
}

Fault dead(Output which) {
  Fault f;
  f.kind = Fault::Kind::actuator_dead;
  f.index = which;
  f.from = hours(6);
  f.to = hours(12);
  return f;
}

struct Case {
  Load load;
  Control control;
};
std::string name_of_case(const testing::TestParamInfo<Case>& c) {
  return std::string(name_of(c.param.load)) +
         (c.param.control == Control::portions ? "_portions" : "_plain");
}

class NoEffect : public testing::TestWithParam<Case> {
 protected:
  Grow grow(std::vector<Fault> faults = {}) const {
    return {GetParam().load, GetParam().control, 18.0, std::move(faults), 1};
  }
};

TEST_P(NoEffect, IsNeverToldOfWhatWorks) {
  World world(world_of(grow()));
  world.run(hours(14));
  EXPECT_EQ(told(world), std::vector<std::string>{}) << last_text(world);
  EXPECT_EQ(world.watch().broken_total(), 0u) << world.watch().broken().front();
}

TEST_P(NoEffect, OfADeadFanIsToldWithinTwoHoursAndTakenBack) {
  // Where nothing breathes, room air is what is there already.
  if (GetParam().load == Load::empty) return;
  World world(world_of(grow({dead(fan)})));
  world.run(hours(8));
  const auto first = told(world);
  EXPECT_EQ(std::count(first.begin(), first.end(), "raised actuator_fan_no_effect"), 1);
  EXPECT_NE(last_text(world).find("Look whether the fan turns"), std::string::npos)
      << last_text(world);
  world.run(hours(7));
  const auto all = told(world);
  EXPECT_EQ(std::count(all.begin(), all.end(), "returned actuator_fan_no_effect"), 1);
}

// In a wet tub a mister may have nothing to do for hours, in an empty one a mat.
INSTANTIATE_TEST_SUITE_P(Tubs, NoEffect,
                         testing::Values(Case{Load::empty, Control::portions},
                                         Case{Load::empty, Control::hysteresis},
                                         Case{Load::pinning, Control::portions},
                                         Case{Load::pinning, Control::hysteresis},
                                         Case{Load::flush, Control::portions},
                                         Case{Load::flush, Control::hysteresis}),
                         name_of_case);

TEST(NoEffectOf, AnEmptyTankIsToldOnceAndTakenBackWhenItIsFilled) {
  for (const Control control : {Control::portions, Control::hysteresis}) {
    World world(world_of({Load::empty, control, 18.0, {dead(mister)}, 1}));
    world.run(hours(8));
    EXPECT_EQ(told(world), std::vector<std::string>{"raised actuator_mister_no_effect"});
    EXPECT_NE(last_text(world).find("Fill its tank"), std::string::npos) << last_text(world);
    const std::string why = world.chamber().actuators(Instant{}).front().why;
    EXPECT_NE(why.find("its runs of late seem to move nothing"), std::string::npos) << why;
    world.run(hours(4));
    EXPECT_EQ(told(world).size(), 1u) << "one occurrence, one message";
    world.run(hours(1));
    EXPECT_EQ(told(world), (std::vector<std::string>{"raised actuator_mister_no_effect",
                                                     "returned actuator_mister_no_effect"}));
  }
}

TEST(NoEffectOf, AColdMatIsToldAndTakenBack) {
  for (const Load load : {Load::pinning, Load::flush}) {
    World world(world_of({load, Control::portions, 18.0, {dead(mat)}, 1}));
    world.run(hours(11));
    EXPECT_EQ(told(world), std::vector<std::string>{"raised actuator_mat_no_effect"});
    EXPECT_NE(last_text(world).find("Feel whether it gets warm"), std::string::npos);
    world.run(hours(9));
    EXPECT_EQ(told(world), (std::vector<std::string>{"raised actuator_mat_no_effect",
                                                     "returned actuator_mat_no_effect"}));
  }
}

}  // namespace
}  // namespace tubwarden::rehearsal
