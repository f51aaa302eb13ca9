// The sums of water. Saturated air holds 14.48 g/m3 at 17 C and 13.62 at 16 C by the formula of
// ASHRAE Fundamentals 2017 ch. 1; where a check is computed by hand, the comment says how.
#include "core/fit/water.hpp"

#include <gtest/gtest.h>

#include "rehearsal/model.hpp"

namespace tubwarden::fit {
namespace {

constexpr Litres kTub{40.0};
constexpr Celsius kPinning{17.0};
constexpr Moist kUsualRoomAir = {{20.0}, {50.0}};

TEST(RhOfRun, OfASmallTubIsLarge) {
  // 100 g/h are 27.78 mg a second; 40 L at 17 C hold 0.579 g: 4.80 %.
  EXPECT_NEAR(rh_of_run(100.0, seconds(1), kTub, kPinning), 4.80, 0.01);
  // And 3.2 % in 60 L, as the model's anchors have it.
  EXPECT_NEAR(rh_of_run(100.0, seconds(1), {60.0}, kPinning), 3.20, 0.01);
}

TEST(RhOfRun, GoesWithTimeAndRateAgainstVolume) {
  const double one = rh_of_run(20.0, seconds(1), kTub, kPinning);
  EXPECT_NEAR(rh_of_run(20.0, milliseconds(500), kTub, kPinning), one / 2.0, 1e-9);
  EXPECT_NEAR(rh_of_run(40.0, seconds(1), {80.0}, kPinning), one, 1e-9);
}

TEST(RhOfWater, OneGramIsMoreThanAllOf60L) {
  // 60 L at 17 C hold 0.869 g.
  EXPECT_NEAR(rh_of_water(1.0, {60.0}, kPinning), 115.1, 0.1);
}

TEST(RateFor, AQuarterOfTheBandAllows26GramsAnHour) {
  // 1.25 % of 0.579 g are 7.24 mg a second: 26.07 g/h.
  EXPECT_NEAR(rate_for(1.25, seconds(1), kTub, kPinning), 26.07, 0.02);
}

TEST(RunFor, OrRunsOf260Milliseconds) {
  // 7.24 mg at 27.78 mg a second.
  EXPECT_NEAR(seconds_of(run_for(1.25, 100.0, kTub, kPinning)), 0.2607, 0.0005);
}

TEST(RoomAboveStart, IsThreeQuartersOfTheBand) {
  EXPECT_DOUBLE_EQ(room_above_start({85.0, 90.0}), 3.75);
}

TEST(ReachOfRun, IsCutByTheLongestRunOrEndedByALateSensor) {
  // 100 g/h lift 4.80 % a second: 1.25 % to the middle take 0.2607 s, and 8 s more until it is
  // told.
  const Reach told = reach_of_run({85, 90}, 100.0, seconds(60), seconds(8), kTub, kPinning);
  EXPECT_FALSE(told.by_limit);
  EXPECT_NEAR(told.moves, 1.25 + 8 * 4.80, 0.1);
  const Reach cut = reach_of_run({85, 90}, 100.0, seconds(2), seconds(8), kTub, kPinning);
  EXPECT_TRUE(cut.by_limit);
  EXPECT_NEAR(cut.moves, 9.60, 0.02);
  const Reach without_limit =
      reach_of_run({85, 90}, 100.0, Duration{0}, seconds(8), kTub, kPinning);
  EXPECT_DOUBLE_EQ(without_limit.moves, told.moves);
}

TEST(WaterTaken, IsThePublishedLoadOfIntakeAir) {
  // From 20 C, 50 % to 17 C, 90 %: humidity ratios 7.262 and 10.893 g/kg, dry air of the intake
  // 1.190 kg/m3: 4.32 g/m3. A second calculation, no publication.
  EXPECT_NEAR(water_taken_g_m3({{17.0}, {90.0}}, kUsualRoomAir), 4.32, 0.01);
}

TEST(WaterTaken, IsNegativeWhereTheRoomIsMoister) {
  // 24 C, 95 % holds 17.908 g/kg, 17 C, 90 % 10.893.
  EXPECT_LT(water_taken_g_m3({{17.0}, {90.0}}, {{24.0}, {95.0}}), -7.0);
}

TEST(RhAfterExchange, GoesToTheRoomsByTheChanges) {
  const Moist inside = {{17.0}, {90.0}};
  EXPECT_NEAR(rh_after_exchange(inside, kUsualRoomAir, 0.0).value, 90.0, 1e-9);
  // Half of the way by ln 2: W = (10.893 + 7.262) / 2 = 9.078 g/kg; e = 101325 W / (0.621945 + W)
  // = 1457.6 Pa, of 1937.95 Pa at 17 C: 75.2 %.
  EXPECT_NEAR(rh_after_exchange(inside, kUsualRoomAir, 0.6931).value, 75.2, 0.1);
  // All of it: the room's 1169.4 Pa.
  EXPECT_NEAR(rh_after_exchange(inside, kUsualRoomAir, 50.0).value, 60.34, 0.02);
}

TEST(ChangesUntil, IsTheInverseOfTheExchange) {
  const Moist inside = {{17.0}, {90.0}};
  const auto changes = changes_until(inside, kUsualRoomAir, {75.2});
  ASSERT_TRUE(changes);
  EXPECT_NEAR(*changes, 0.693, 0.01);
}

TEST(ChangesUntil, IsNothingWhereTheRoomDoesNotLead) {
  const Moist inside = {{17.0}, {90.0}};
  EXPECT_FALSE(changes_until(inside, kUsualRoomAir, {60.0}));  // drier than the room makes it
  EXPECT_FALSE(changes_until(inside, kUsualRoomAir, {95.0}));  // the other way
  EXPECT_FALSE(changes_until(inside, inside, {80.0}));         // nowhere
}

TEST(CasingGives, ByLewisAndTheModelsArea) {
  // 5 kg: 0.125 m2. 4 W/(m2 K) over 1207.2 x 0.8973 J/(m3 K): 3.693e-3 m/s. Over 17 C, 90 %:
  // (0.99 - 0.9) x 1937.95 = 174.4 Pa, over 461.5 x 290.15 J/kg: 1.3025e-3 kg/m3.
  // x 3.693e-3 x 0.125 x 3.6e6 = 2.16 g/h.
  EXPECT_NEAR(casing_gives_g_h(5.0, false, {{17.0}, {90.0}}), 2.16, 0.01);
  EXPECT_NEAR(casing_gives_g_h(5.0, true, {{17.0}, {90.0}}), 3.24, 0.01);
  EXPECT_EQ(casing_gives_g_h(5.0, true, {{17.0}, {100.0}}), 0.0);
}

TEST(CasingGives, WhatTheModelsDoes) {
  // 0.7 m3/h of a room of 16 C and 50 %, 2 g/h of mist, a full flush: once it stands still, what
  // the model's casing has given in an hour, at its air, within a quarter.
  const auto tub = rehearsal::parameters_of(rehearsal::Load::flush, 40.0, 5.0);
  rehearsal::ChamberModel model(tub, {.mean_c = 16.0, .swing_c = 0.0, .humidity_pct = 50.0}, {});
  model.drive({.mist_g_h = 2.0, .fan_m3_h = 0.7});
  model.advance(hours(24));
  const double before = model.books().casing_evaporated_g;
  model.advance(hours(1));
  const double gave = model.books().casing_evaporated_g - before;
  const auto air = model.air();
  const double sum = casing_gives_g_h(5.0, true, {{air.celsius}, {air.humidity_pct}});
  EXPECT_GT(gave, 1.0);
  EXPECT_NEAR(sum / gave, 1.0, 0.25);
}

TEST(Casing, HasTheModelsFigures) {
  const auto model = rehearsal::parameters_of(rehearsal::Load::pinning, 60.0, 5.0);
  EXPECT_DOUBLE_EQ(model.crop.casing_m2, 5.0 * kCasingM2PerKg);
  const auto flush = rehearsal::parameters_of(rehearsal::Load::flush, 60.0, 5.0);
  EXPECT_DOUBLE_EQ(flush.crop.casing_m2, 5.0 * kCasingM2PerKg * kFlushArea);
  EXPECT_DOUBLE_EQ(model.crop.casing_w_m2k, kCasingWM2K);
  EXPECT_DOUBLE_EQ(model.crop.casing_activity, kCasingActivity);
}

}  // namespace
}  // namespace tubwarden::fit
