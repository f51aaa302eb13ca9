// The slow duty's law and its share of a period, by values worked out by hand.
#include "core/climate/slow_duty.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace tubwarden {
namespace {

constexpr Band kBand{24.0, 25.5};  // middle 24.75
constexpr SlowDuty::Reach kMat{2.4, 0.0};
constexpr Instant kNow{hours(100)};

TEST(SlowDuty, FifteenWattsLiftFiveKilogramsByThreeKelvinAnHour) {
  // 15 W x 3600 s / (5 kg x 3300 J/(kg K)) = 3.27 K.
  EXPECT_NEAR(substrate_rise(15.0, 5.0), 3.2727, 1e-4);
  EXPECT_NEAR(substrate_rise(30.0, 5.0), 6.5455, 1e-4);
  EXPECT_EQ(substrate_rise(0.0, 5.0), substrate_rise(15.0, 5.0)) << "the usual, not nothing";
  EXPECT_EQ(substrate_rise(30.0, 0.0), substrate_rise(15.0, 5.0));
}

TEST(SlowDuty, AsksForWhatIsMissingWithinAnHour) {
  SlowDuty law;
  EXPECT_FALSE(law.known());
  EXPECT_EQ(law.rise(), 0.0);
  law.follow(24.25, kBand, kMat, true, kNow);
  EXPECT_TRUE(law.known());
  EXPECT_NEAR(law.rise(), 0.5, 1e-9);
  SlowDuty far;
  far.follow(19.0, kBand, kMat, true, kNow);
  EXPECT_EQ(far.rise(), 2.4) << "no more than the mat can";
  SlowDuty warm;
  warm.follow(25.0, kBand, kMat, true, kNow);
  EXPECT_EQ(warm.rise(), 0.0) << "nothing cools";
}

TEST(SlowDuty, HoldsWhatTheBedLoses) {
  SlowDuty law;
  // Half a degree short for three hours: 0.5 K/h more is held, for each hour of it a sixth.
  law.follow(24.25, kBand, kMat, true, kNow);
  for (int i = 1; i <= 36; ++i) law.follow(24.25, kBand, kMat, true, kNow + i * minutes(5));
  EXPECT_NEAR(law.held(), 0.5, 1e-6);
  EXPECT_NEAR(law.rise(), 1.0, 1e-6);
}

TEST(SlowDuty, LooksAheadWhereTheBedRises) {
  SlowDuty law;
  for (int i = 0; i <= 360; ++i) {  // 1 K/h for six hours, up to the middle
    law.follow(18.75 + i / 60.0, kBand, kMat, false, kNow + i * minutes(1));
  }
  // A smoothed ramp is late by its time: 24.75 - 1 K/h x 4 min, and 20 min between the two.
  EXPECT_NEAR(law.rise(), 0.0, 1e-9) << "it still rises: nothing is asked";
  law.held(0.5);
  law.follow(24.75, kBand, kMat, false, kNow + minutes(361));
  EXPECT_NEAR(law.rise(), 0.5 + 4.0 / 60.0 - 20.0 / 60.0, 0.02);
}

TEST(SlowDuty, LearnsNothingWhereItMayNot) {
  const auto held_after = [](double value, const SlowDuty::Reach& reach, bool learns) {
    SlowDuty law;
    for (int i = 0; i <= 12; ++i) law.follow(value, kBand, reach, learns, kNow + i * minutes(5));
    return law.held();
  };
  EXPECT_GT(held_after(24.5, kMat, true), 0.0);
  EXPECT_EQ(held_after(24.5, kMat, false), 0.0) << "outputs are not obeyed";
  EXPECT_EQ(held_after(20.0, kMat, true), 0.0) << "far away: it warms up";
  EXPECT_EQ(held_after(24.0, {0.5, 0.0}, true), 0.0) << "it gives all it can";
  SlowDuty gap;
  gap.follow(24.5, kBand, kMat, true, kNow);
  gap.follow(24.5, kBand, kMat, true, kNow + hours(5));
  EXPECT_EQ(gap.held(), 0.0) << "nobody saw the time between";
}

TEST(SlowDuty, KeepsWhatIsHeldWhenReadingsStop) {
  SlowDuty law;
  law.held(0.7);
  law.held(std::numeric_limits<double>::quiet_NaN());
  law.held(std::numeric_limits<double>::infinity());
  EXPECT_EQ(law.held(), 0.7);
  law.follow(24.75, kBand, kMat, true, kNow);
  law.forget();
  EXPECT_FALSE(law.known());
  law.follow(24.75, kBand, {0.0, 0.0}, false, kNow + hours(1));  // its driver is gone
  EXPECT_EQ(law.held(), 0.7);
  EXPECT_EQ(law.rise(), 0.0);
  SlowDuty wild;
  wild.held(1000.0);
  wild.follow(24.75, kBand, kMat, true, kNow);
  EXPECT_EQ(wild.held(), 2.4) << "no more than the mat can";
}

constexpr DutyPlan kPlan{minutes(20), 800};

TEST(DutyCycle, RunsForItsShareOfThePeriod) {
  DutyCycle cycle;
  const auto begin = cycle.ask(0.25, kPlan, seconds(30), kNow);
  EXPECT_TRUE(begin.runs);
  EXPECT_EQ(begin.until, kNow + minutes(5));
  const auto rest = cycle.ask(0.9, kPlan, seconds(30), kNow + minutes(5));
  EXPECT_FALSE(rest.runs) << "a new share counts from the next period";
  EXPECT_EQ(rest.until, kNow + minutes(20));
  EXPECT_EQ(rest.share, 0.25);
  const auto next = cycle.ask(0.9, kPlan, seconds(30), kNow + minutes(20));
  EXPECT_EQ(next.until, kNow + minutes(36)) << "80 % of 20 min";
  EXPECT_EQ(next.share, 0.8);
}

TEST(DutyCycle, OwesAShareTooShortToTheNextPeriod) {
  DutyCycle cycle;
  // 10 % of 20 min is 2 min, and the shortest run is 3.
  EXPECT_FALSE(cycle.ask(0.1, kPlan, minutes(3), kNow).runs);
  const auto second = cycle.ask(0.1, kPlan, minutes(3), kNow + minutes(20));
  EXPECT_TRUE(second.runs);
  EXPECT_EQ(second.until, kNow + minutes(24));
  EXPECT_FALSE(cycle.ask(0.0, kPlan, minutes(3), kNow + minutes(40)).runs);
  cycle.ask(0.1, kPlan, minutes(3), kNow + minutes(60));
  cycle.ask(0.0, kPlan, minutes(3), kNow + minutes(80));
  EXPECT_FALSE(cycle.ask(0.1, kPlan, minutes(3), kNow + minutes(100)).runs)
      << "nothing is owed once nothing is asked";
}

TEST(DutyCycle, AShareWorthARunNeedNotWaitForTheEndOfAnIdlePeriod) {
  DutyCycle cycle;
  EXPECT_FALSE(cycle.ask(0.0, kPlan, minutes(3), kNow).runs);
  EXPECT_FALSE(cycle.ask(0.1, kPlan, minutes(3), kNow + minutes(1)).runs) << "2 of 3 min";
  EXPECT_FALSE(cycle.ask(0.0, kPlan, minutes(3), kNow + minutes(2)).runs);
  const auto begun = cycle.ask(0.5, kPlan, minutes(3), kNow + minutes(4));
  EXPECT_TRUE(begun.runs);
  EXPECT_EQ(begun.until, kNow + minutes(14));
}

}  // namespace
}  // namespace tubwarden
