// The sums of fresh air. The crop's figures are those of a growers' forum (weak, see core/fit); the
// checks of them are second calculations by hand.
#include "core/fit/fan.hpp"

#include <gtest/gtest.h>

#include "core/air/ventilation.hpp"
#include "rehearsal/parameters.hpp"

namespace tubwarden::fit {
namespace {

TEST(Breath, IsTheFullFlushOfTheReferenceValues) {
  // 5 x 0.045 + 0.5 x 1.056 = 0.753 g/h, at 1.8548 g/L (16 C): 0.406 L/h.
  EXPECT_NEAR(breath_g_h(5.0, 0.5, {16.0}), 0.753, 1e-9);
  EXPECT_NEAR(breath_l_h(5.0, 0.5, {16.0}).value, 0.406, 0.0005);
}

TEST(Breath, ScalesWithSubstrateAndWarmth) {
  EXPECT_NEAR(breath_g_h(10.0, 1.0, {16.0}), 2 * 0.753, 1e-9);
  // 26 C is one Q10 of 2.5 up.
  EXPECT_NEAR(breath_g_h(5.0, 0.5, {26.0}), 2.5 * 0.753, 1e-9);
}

TEST(Breath, WarmsByTheHeatOfGlucose) {
  // 9 g/h are about 26.6 W: 9 x 10.62 kJ / 3.6. 200 kg at 0.045 g make 9 g/h.
  EXPECT_NEAR(breath_w(200.0, 0.0, {16.0}), 26.55, 0.01);
}

TEST(Breath, HasTheModelsFigures) {
  const auto model = rehearsal::parameters_of(rehearsal::Load::flush, 40.0, 5.0);
  EXPECT_DOUBLE_EQ(model.crop.substrate_co2_g_kgh, kSubstrateCo2GKgH);
  EXPECT_DOUBLE_EQ(model.crop.mushrooms_co2_g_kgh, kMushroomsCo2GKgH);
  EXPECT_DOUBLE_EQ(model.crop.mushrooms_kg, 5.0 * kFlushKgPerKg);
  EXPECT_DOUBLE_EQ(model.crop.reference_c, kBreathAtC);
  EXPECT_DOUBLE_EQ(model.crop.q10, kBreathQ10);
  EXPECT_DOUBLE_EQ(model.crop.heat_kj_g, kBreathKjPerG);
}

TEST(AirFor, IsTheReferenceValuesFreshAir) {
  // 0.406 L/h over 580 and 1580 ppm: 0.70 and 0.257 m3/h. Of a fan of 2 m3/h that is 35 % of the
  // time.
  EXPECT_NEAR(*air_for_m3_h({0.406}, {1000.0}, {420.0}), 0.70, 0.001);
  EXPECT_NEAR(*air_for_m3_h({0.406}, {2000.0}, {420.0}), 0.257, 0.001);
}

TEST(AirFor, IsTheInverseOfTheSteadyState) {
  const double m3_h = *air_for_m3_h({0.5}, {920.0}, {420.0});
  EXPECT_NEAR(steady_state({420.0}, {0.5}, {1000.0 * m3_h})->value, 920.0, 1e-6);
}

TEST(AirFor, KnowsNoAnswerBelowTheOutside) {
  EXPECT_FALSE(air_for_m3_h({0.406}, {420.0}, {420.0}));
  EXPECT_FALSE(air_for_m3_h({0.406}, {400.0}, {420.0}));
}

TEST(DutyMax, IsAllWithoutALongestRun) {
  EXPECT_DOUBLE_EQ(duty_max({seconds(10), seconds(10), Duration{0}, 60}), 1.0);
}

TEST(DutyMax, IsCutByRestsOrByStarts) {
  // 5 s of every 25: 144 starts an hour.
  EXPECT_NEAR(duty_max({seconds(1), seconds(20), seconds(5), 0}), 0.2, 1e-9);
  // 60 starts of 5 s are 300 s of 3600.
  EXPECT_NEAR(duty_max({seconds(1), seconds(20), seconds(5), 60}), 300.0 / 3600.0, 1e-9);
  // Without a rest of its own it rests 1 s after its longest.
  EXPECT_NEAR(duty_max({seconds(1), Duration{0}, seconds(9), 0}), 0.9, 1e-9);
}

TEST(ChangesOfRun, IsFlowOverVolume) {
  // 2 m3/h are 5.56 L in 10 s: 0.139 of 40 L.
  EXPECT_NEAR(changes_of_run(2.0, seconds(10), {40.0}), 0.1389, 0.0001);
}

constexpr FreshAirFloor kFloor = {1.0, minutes(15)};

TEST(FloorNeed, IsOneRunWhereNothingCutsIt) {
  // 40 L at 2 m3/h: 72 s, 8 % of 15 min, 4 starts an hour.
  const FloorNeed need = floor_need(kFloor, 2.0, {40.0}, {seconds(10), seconds(10), {}, 60});
  EXPECT_NEAR(seconds_of(need.run), 72.0, 1e-6);
  EXPECT_EQ(need.takes, need.run);
  EXPECT_EQ(need.starts, 1);
  EXPECT_DOUBLE_EQ(need.starts_per_hour, 4.0);
  EXPECT_NEAR(need.share, 0.08, 1e-9);
}

TEST(FloorNeed, IsCutByTheLongestRun) {
  // 72 s in runs of 30 s: three, with two rests of 400 s between.
  const FloorNeed need =
      floor_need(kFloor, 2.0, {40.0}, {seconds(10), seconds(400), seconds(30), 60});
  EXPECT_EQ(need.starts, 3);
  EXPECT_NEAR(seconds_of(need.takes), 872.0, 1e-6);
  EXPECT_DOUBLE_EQ(need.starts_per_hour, 12.0);
}

TEST(FloorNeed, MayBeMoreThanThereIs) {
  // 0.1 m3/h against 40 L each 15 min, 0.16 m3/h.
  EXPECT_NEAR(floor_need(kFloor, 0.1, {40.0}, {}).share, 1.6, 1e-9);
  EXPECT_NEAR(floor_rate_m3_h(kFloor, {40.0}), 0.16, 1e-9);
}

}  // namespace
}  // namespace tubwarden::fit
