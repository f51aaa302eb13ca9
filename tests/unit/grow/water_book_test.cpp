#include "core/grow/water_book.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

constexpr MoistAir kTub{Celsius{17}, Percent{90}};
constexpr MoistAir kRoom{Celsius{20}, Percent{50}};

WaterFlow flow(double fan_m3_h, double mist_g_h) {
  WaterFlow f;
  f.fan_m3_h = fan_m3_h;
  f.leak_m3_h = 0.14;
  f.taken_g_m3 = 4.0;
  f.per_pct_g_m3 = 0.14;
  f.mist_g_h = mist_g_h;
  return f;
}

TEST(TakenWater, IsThePsychrometricChartsDifference) {
  // By hand from ASHRAE Fundamentals 2017 ch. 1 table 2: Ws 12.180 g/kg at 17 C, 14.761 at 20 C,
  // and 0.846 m3/kg of dry air at 20 C and 50 % (figure 1); RH times Ws is W to within its last per
  // cent.
  EXPECT_NEAR(taken_g_m3(kTub, kRoom), (0.9 * 12.18 - 0.5 * 14.761) / 0.84, 0.15);
  EXPECT_DOUBLE_EQ(taken_g_m3(kRoom, kRoom), 0.0);
  EXPECT_LT(taken_g_m3(kRoom, kTub), 0.0) << "a wetter room brings water";
}

TEST(WaterBook, AddsUpWhatFlows) {
  WaterBook book;
  book.mark("tub", 200.0);
  book.pass(hours(2), flow(0.5, 1.0));
  book.pass(hours(1), flow(0.0, 0.0));
  const auto a = book.account("tub", {});
  ASSERT_TRUE(a);
  EXPECT_NEAR(a->fan_g, 4.0, 1e-9);
  EXPECT_NEAR(a->leak_g, 3 * 0.14 * 4.0, 1e-9);
  EXPECT_NEAR(a->mist_g, 2.0, 1e-9);
  EXPECT_NEAR(a->gave_g, 4.0 + 1.68 - 2.0, 1e-9);
  EXPECT_EQ(a->covered, hours(3));
  EXPECT_FALSE(book.account("tub-2", {}));
}

TEST(WaterBook, StatesAnErrorThatGrowsWithItsParts) {
  const WaterSums sums{3600.0, 0.0, 100.0, 50.0, 40.0, 0.0, 10.0};
  const WaterAccount a = account_of(sums, {0.4, 0.5, 0.3, 2.0});
  EXPECT_NEAR(a.doubt_g, std::sqrt(40.0 * 40.0 + 25.0 * 25.0 + 12.0 * 12.0 + 20.0 * 20.0), 1e-9);
  EXPECT_EQ(account_of(sums, {0.0, 0.0, 0.0, 0.0}).doubt_g, 0.0);
}

TEST(WaterBook, GivesNoCreditForTimeThatNobodyRead) {
  WaterBook book;
  book.mark("tub", 100.0);
  book.pass(hours(1), flow(1.0, 0.0));
  book.pass(hours(5), std::nullopt);
  const auto a = book.account("tub", {});
  EXPECT_EQ(a->since, hours(6));
  EXPECT_EQ(a->covered, hours(1));
  EXPECT_NEAR(a->gave_g, 1.14 * 4.0, 1e-9);
}

TEST(WaterBook, BeginsAnewWithEachWatering) {
  WaterBook book;
  book.mark("tub", 0.0);
  book.pass(hours(4), flow(1.0, 0.0));
  book.mark("tub", 250.0);
  EXPECT_EQ(book.account("tub", {})->gave_g, 0.0);
  EXPECT_EQ(book.mark_of("tub")->given_ml, 250.0);
  book.mark("other", 10.0);
  book.pass(hours(1), flow(0.0, 100.0));
  EXPECT_LT(book.account("tub", {})->gave_g, 0.0) << "mist beyond what left the air wets it";
  EXPECT_EQ(book.state().marks.size(), 2u);
  book.forget("tub");
  EXPECT_FALSE(book.marked("tub"));
  EXPECT_TRUE(book.marked("other"));
}

TEST(WaterBook, CountsTheLastDaysRunsByTheHour) {
  WaterBook book;
  book.outputs({"mister", "fan"});
  for (int hour = 0; hour < 30; ++hour) {
    book.ran(0, 36.0);
    if (hour < 2) book.ran(1, 600.0);
    book.pass(hours(1), std::nullopt);
  }
  EXPECT_NEAR(book.output(0).run_s, 30 * 36.0, 1e-9);
  EXPECT_NEAR(book.day_s(0), 24 * 36.0, 1e-9);
  EXPECT_EQ(book.day_s(1), 0.0) << "its runs are over a day old";
  EXPECT_NEAR(book.output(1).run_s, 1200.0, 1e-9);
  EXPECT_NEAR(book.day_known_s(), 24 * 3600.0, 1e-9);
}

TEST(WaterBook, KeepsTheTimesOfOutputsThatStay) {
  WaterBook book;
  book.outputs({"mister", "fan"});
  book.ran(1, 60.0);
  book.pass(minutes(5), std::nullopt);
  book.refilled(0);
  book.outputs({"fan", "mat", "mister"});
  EXPECT_NEAR(book.output(0).run_s, 60.0, 1e-9);
  EXPECT_EQ(book.output(1).run_s, 0.0);
  EXPECT_EQ(book.output(2).refilled_at_s, 0.0);
  EXPECT_FALSE(book.output(0).refilled_at_s);
}

TEST(WaterBook, GoesOnAfterARestart) {
  WaterBook before;
  before.outputs({"mister"});
  before.mark("tub", 150.0);
  before.mark("gone", 50.0);
  before.ran(0, 30.0);
  before.pass(hours(10), flow(1.0, 0.0));
  before.refilled(0);
  const double gave = before.account("tub", {})->gave_g;

  WaterBook after;
  after.outputs({"fan", "mister"});
  after.mark("tub", 0.0);
  after.mark("new", 0.0);
  after.restore(before.state(), hours(20));
  EXPECT_NEAR(after.account("tub", {})->gave_g, gave, 1e-9);
  EXPECT_EQ(after.account("tub", {})->since, hours(30));
  EXPECT_EQ(after.account("tub", {})->covered, hours(10));
  EXPECT_EQ(after.mark_of("tub")->given_ml, 150.0);
  EXPECT_TRUE(after.marked("gone")) << "until somebody says that it has left";
  EXPECT_EQ(after.account("new", {})->since, Duration{0});
  EXPECT_EQ(after.output(1).refilled_at_s, 30.0);
  EXPECT_NEAR(after.day_known_s(), 10 * 3600.0, 1e-9);
  after.restore(before.state(), hours(30));
  EXPECT_EQ(after.day_known_s(), 0.0) << "of the last day nothing was seen";
}

TEST(WaterBook, IsNotPutOutByAClockThatRanBackwards) {
  WaterBook book, after;
  book.mark("tub", 1.0);
  book.pass(hours(1), flow(1.0, 0.0));
  after.mark("tub", 0.0);
  after.restore(book.state(), -hours(100));
  EXPECT_EQ(after.account("tub", {})->since, hours(1));
}

}  // namespace
}  // namespace tubwarden
