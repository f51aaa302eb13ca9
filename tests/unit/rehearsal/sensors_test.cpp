// What a sensor makes of the truth: lag, noise, steps; and that a seed replays.

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "rehearsal/plant.hpp"
#include "rehearsal/probe.hpp"

namespace tubwarden::rehearsal {
namespace {

TEST(Sensors, ALagShows63PercentOfAStepAfterItsTime) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  p.tub.lid_open_per_h = 360000.0;  // the air is the room's within a twentieth of a second
  p.sensors[index_of(Quantity::co2)].lag_s = 60.0;
  ChamberModel model(p, {.co2_ppm = 400.0}, {.co2_ppm = 2400.0});
  EXPECT_DOUBLE_EQ(model.lagged(Quantity::co2), 2400.0);
  model.drive({.lid_open = true});
  model.advance(seconds(60));
  EXPECT_NEAR(model.truth(Quantity::co2), 400.0, 0.1);
  // Within the first second the truth is taken to fall in a straight line: 1 % of the step.
  EXPECT_NEAR(model.lagged(Quantity::co2), 400.0 + 2000.0 * std::exp(-1.0), 20.0);
  model.advance(seconds(60));
  EXPECT_NEAR(model.lagged(Quantity::co2), 400.0 + 2000.0 * std::exp(-2.0), 20.0);
}

TEST(Sensors, ALagTrailsARampByItsTime) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  p.crop.mushrooms_kg = 0.5;
  p.crop.q10 = 1.0;
  p.sensors[index_of(Quantity::co2)].lag_s = 60.0;
  ChamberModel model(p, {}, {});
  model.advance(hours(1));
  const double a_second =
      model.air().co2_g_h / 3600.0 * 1e6 * 28.966 / 44.0095 /
      (model.books().co2_g.inside_now * 1e6 * 28.966 / 44.0095 / model.truth(Quantity::co2));
  EXPECT_NEAR(model.truth(Quantity::co2) - model.lagged(Quantity::co2), 60.0 * a_second, 0.01);
}

TEST(Sensors, ReportInTheirQuantum) {
  const ChamberModel model(parameters_of(Load::empty, 60.0), {},
                           {.celsius = 18.03, .humidity_pct = 71.26});
  Probe rh(Quantity::humidity, {8.0, 0.5, 0.0}, 1);
  Probe t(Quantity::air_temperature, {8.0, 0.0, 0.0}, 1);
  EXPECT_DOUBLE_EQ(rh.sample(model), 71.5);
  EXPECT_NEAR(t.sample(model), 18.03, 1e-9);
}

TEST(Sensors, NoiseHasItsMeanAndSpread) {
  const ChamberModel model(parameters_of(Load::empty, 60.0), {}, {.humidity_pct = 70.0});
  Probe rh(Quantity::humidity, {8.0, 0.0, 0.4}, 7);
  double sum = 0.0, squares = 0.0;
  constexpr int n = 20000;
  for (int i = 0; i < n; ++i) {
    const double off = rh.sample(model) - model.truth(Quantity::humidity);
    sum += off;
    squares += off * off;
  }
  EXPECT_NEAR(sum / n, 0.0, 0.02) << "four standard errors are 0.011";
  EXPECT_NEAR(std::sqrt(squares / n), 0.4, 0.01);
}

TEST(Sensors, HumidityStaysWithinItsScale) {
  const ChamberModel model(parameters_of(Load::empty, 60.0), {}, {.humidity_pct = 100.0});
  Probe rh(Quantity::humidity, {8.0, 0.0, 3.0}, 7);
  for (int i = 0; i < 100; ++i) ASSERT_LE(rh.sample(model), 100.0);
}

TEST(Sensors, ASeedReplaysAndAnotherDiffers) {
  const ChamberModel model(parameters_of(Load::empty, 60.0), {}, {});
  const auto samples = [&](std::uint64_t seed) {
    Probe rh(Quantity::humidity, {8.0, 0.0, 0.4}, seed);
    std::vector<double> all;
    for (int i = 0; i < 50; ++i) all.push_back(rh.sample(model));
    return all;
  };
  EXPECT_EQ(samples(3), samples(3));
  EXPECT_NE(samples(3), samples(4));
}

TEST(Dice, IsSplitmix64) {
  // Reference output for seed 1234567 of Vigna's splitmix64.c (from memory).
  Dice dice(1234567);
  EXPECT_EQ(dice.next(), 6457827717110365317ULL);
  EXPECT_EQ(dice.next(), 3203168211198807973ULL);
}

TEST(Dice, WholeReachesBothEndsAndNoFurther) {
  Dice dice(5);
  bool low = false, high = false;
  for (int i = 0; i < 1000; ++i) {
    const int n = dice.whole(2, 4);
    ASSERT_GE(n, 2);
    ASSERT_LE(n, 4);
    low = low || n == 2;
    high = high || n == 4;
  }
  EXPECT_TRUE(low && high);
}

ChamberPlan with(std::vector<std::pair<Effect, double>> parts, bool substrate_sensor) {
  ChamberPlan plan;
  for (const auto& [effect, rate] : parts) {
    ActuatorPlan a;
    a.effect = effect;
    a.rate = rate;
    plan.actuators.push_back(a);
  }
  SensorPlan sensor;
  sensor.quantities.push_back({});
  if (substrate_sensor) sensor.quantities.back().quantity = Quantity::substrate_temperature;
  plan.sensors.push_back(sensor);
  return plan;
}

TEST(Plant, SumsWhatRunsByEffect) {
  Plant plant(
      with({{Effect::humidify, 40.0}, {Effect::humidify, 60.0}, {Effect::fresh_air, 2.0}}, false));
  plant.set(0, kRun);
  plant.set(1, 500);
  EXPECT_DOUBLE_EQ(plant.drive().mist_g_h, 70.0);
  EXPECT_FALSE(plant.drive().fan);
  plant.dead(1, true);
  plant.set(2, kRun);
  EXPECT_DOUBLE_EQ(plant.drive().mist_g_h, 40.0);
  EXPECT_TRUE(plant.drive().fan);
  EXPECT_DOUBLE_EQ(plant.drive().fan_m3_h, 2.0);
}

TEST(Plant, HeatsTheSubstrateWhereItIsMeasured) {
  Plant bed(with({{Effect::heat, 15.0}}, true));
  Plant air(with({{Effect::heat, 15.0}}, false));
  bed.set(0, kRun);
  air.set(0, kRun);
  EXPECT_DOUBLE_EQ(bed.drive().heat_substrate_w, 15.0);
  EXPECT_DOUBLE_EQ(air.drive().heat_air_w, 15.0);
}

}  // namespace
}  // namespace tubwarden::rehearsal
