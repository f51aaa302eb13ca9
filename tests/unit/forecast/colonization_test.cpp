// Warm time by published temperatures, what is fitted and what is not, shaken jars, and what is
// refused.
#include "core/forecast/colonization.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "core/forecast/colonization_fit.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;

const WallTime kDay0{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}.time_since_epoch()};

WallTime at_day(double d) { return kDay0 + milliseconds(std::llround(d * 86'400'000.0)); }
double day_of(WallTime t) { return static_cast<double>((t - kDay0).count()) / 86'400'000.0; }

// A second calculation of Rosso's formula at 3, 25 and 34 C.
TEST(GrowthPace, FollowsTheCardinalModel) {
  EXPECT_NEAR(growth_pace({10.0}), 0.2072, 5e-5);
  EXPECT_NEAR(growth_pace({18.0}), 0.7241, 5e-5);
  EXPECT_NEAR(growth_pace({22.0}), 0.9377, 5e-5);
  EXPECT_NEAR(growth_pace({25.0}), 1.0, 1e-12);
  EXPECT_NEAR(growth_pace({30.0}), 0.7446, 5e-5);
  EXPECT_EQ(growth_pace({3.0}), 0.0);
  EXPECT_EQ(growth_pace({34.0}), 0.0);
  EXPECT_EQ(growth_pace({-10.0}), 0.0);
}

TEST(WarmDays, PassAtEachStepsPaceAndAheadAtTheAssumedOne) {
  const std::vector<TemperatureStep> history{
      {at_day(-1), Celsius{25.0}}, {at_day(2), Celsius{18.0}}, {at_day(4), std::nullopt}};
  const WarmTime warm(history, kDay0, at_day(5), Celsius{22.0});
  EXPECT_NEAR(warm.days_at(at_day(2)), 2.0, 1e-9);
  EXPECT_NEAR(warm.days_at(at_day(4)), 2.0 + 2 * 0.7241, 1e-3);
  EXPECT_NEAR(warm.days_now(), 2.0 + 2 * 0.7241 + 0.9377, 1e-3) << "an unknown day runs as ahead";
  EXPECT_NEAR(warm.known_share(), 0.8, 1e-9);
  for (const double d : {0.5, 2.0, 3.3, 4.9, 9.0}) {
    EXPECT_NEAR(day_of(*warm.reached(warm.days_at(at_day(d)))), d, 1e-6);
  }
  EXPECT_EQ(warm.days_at(at_day(-3)), 0.0);
  const WarmTime cold({}, kDay0, at_day(1), Celsius{1.0});
  EXPECT_FALSE(cold.reached(1.0)) << "never, where nothing grows";
}

// Zwietering et al., Appl. Environ. Microbiol. 56 (1990) 1875-1881: the logistic by its greatest
// slope (10 % a day) and lag (2 days); its figures are a second calculation.
TEST(GrownCurve, IsTheLogisticAtBendOneAndGompertzAtNone) {
  const GrownCurve logistic{7.0, 2.5, 1.0};
  EXPECT_NEAR(logistic.grown(0.0), 0.05732, 5e-6);
  EXPECT_NEAR(logistic.grown(4.0), 0.23148, 5e-6);
  EXPECT_NEAR(logistic.warm_days(0.9), 12.4931, 5e-5);
  EXPECT_NEAR(logistic.warm_days(0.99), 18.4878, 5e-5);
  const GrownCurve gompertz{7.0, 2.5, 0.0};
  const double slope = 0.1 / std::log(2.0) * 2.0;  // of ln(-ln grown) where the slope at 1/2 is 0.1
  EXPECT_NEAR(gompertz.grown(10.0), std::exp(-std::log(2.0) * std::exp(-slope * 3.0)), 1e-6);
  for (const double bend : {-0.5, 0.0, 0.5, 1.0, 2.4}) {
    const GrownCurve curve{9.0, 2.0, bend};
    EXPECT_NEAR((curve.grown(9.001) - curve.grown(8.999)) / 0.002, 0.125, 1e-5) << bend;
    EXPECT_NEAR(curve.grown(curve.warm_days(0.2)), 0.2, 1e-9) << bend;
  }
  EXPECT_EQ((GrownCurve{9.0, 2.0, -0.5}.grown(0.0)), 0.0);
}

ColonizationCase jar_of(std::vector<GrownLook> looks) {
  ColonizationCase jar;
  jar.inoculated = kDay0;
  jar.looks = std::move(looks);
  jar.history = {{kDay0, Celsius{25.0}}};
  jar.now = at_day(12);
  jar.ahead = {25.0};
  jar.window_from = days(14);
  jar.window_to = days(21);
  return jar;
}

TEST(Colonization, FitsNothingToTwoLooks) {
  const auto told = forecast_colonization(jar_of({{at_day(6), 10.0}, {at_day(9), 30.0}}));
  ASSERT_TRUE(told.ok()) << told.error().text;
  EXPECT_EQ(told->basis, ForecastBasis::window);
  EXPECT_EQ(told->looks_used, 2U);
  EXPECT_EQ(day_of(told->full.early), 14.0);
  EXPECT_EQ(day_of(told->full.late), 21.0);
  EXPECT_FALSE(told->shake_from);
}

TEST(Colonization, FollowsTheLooksAgainstTheWindow) {
  // A slow logistic: one half at day 14, full long after the window.
  std::vector<GrownLook> looks;
  for (double d = 6.0; d <= 18.0; d += 2.0)
    looks.push_back({at_day(d), 100.0 / (1.0 + std::exp((14.0 - d) / 3.0))});
  ColonizationCase jar = jar_of(looks);
  jar.now = at_day(18);
  const auto told = forecast_colonization(jar);
  ASSERT_TRUE(told.ok()) << told.error().text;
  EXPECT_EQ(told->basis, ForecastBasis::looks);
  EXPECT_EQ(told->looks_used, 7U);
  const double full = 14.0 + 3.0 * std::log(49.0);
  EXPECT_LT(day_of(told->full.early), full);
  EXPECT_GT(day_of(told->full.late), full);
  ASSERT_TRUE(told->shake_from && told->shake_to);
  EXPECT_NEAR(day_of(told->shake_from->likely), 14.0 - 3.0 * std::log(4.0), 0.6);
  EXPECT_LT(told->shake_from->likely, told->shake_to->likely);
  EXPECT_LE(told->full.early, told->full.likely);
  EXPECT_LE(told->full.likely, told->full.late);
  std::swap(jar.looks.front(), jar.looks.back());
  EXPECT_EQ(forecast_colonization(jar)->full.likely, told->full.likely) << "in any order";
}

TEST(Colonization, TakesLongerInAColdRoom) {
  ColonizationCase jar = jar_of({{at_day(6), 8.0}, {at_day(9), 22.0}, {at_day(12), 45.0}});
  const auto warm = forecast_colonization(jar);
  jar.ahead = {18.0};
  jar.window_from = days(19);  // the same jar's window at 18 C
  jar.window_to = days(29);
  const auto cold = forecast_colonization(jar);
  ASSERT_TRUE(warm.ok() && cold.ok());
  const double left = day_of(warm->full.likely) - 12.0;
  EXPECT_NEAR(day_of(cold->full.likely) - 12.0, left / 0.7241, 0.15);
  EXPECT_GT(cold->full.late - cold->full.early, warm->full.late - warm->full.early);
}

TEST(Colonization, BeginsANewCurveAtAShake) {
  ColonizationCase jar = jar_of({{at_day(6), 8.0}, {at_day(8), 18.0}, {at_day(9), 26.0}});
  jar.shakes = {at_day(9.1)};
  const auto shaken = forecast_colonization(jar);
  ASSERT_TRUE(shaken.ok());
  EXPECT_TRUE(shaken->shaken);
  EXPECT_EQ(shaken->basis, ForecastBasis::window) << "no look since the shake";
  EXPECT_TRUE(shaken->shake_from) << "what the looks before it said of the window stays";
  const WallTime when = shaken->shake_from->likely;
  jar.looks.insert(jar.looks.end(),
                   {{at_day(10.0), 10.0}, {at_day(11.0), 35.0}, {at_day(12.0), 65.0}});
  const auto since = forecast_colonization(jar);
  ASSERT_TRUE(since.ok());
  EXPECT_EQ(since->basis, ForecastBasis::looks);
  EXPECT_EQ(since->looks_used, 3U);
  EXPECT_EQ(since->shake_from->likely, when);
  EXPECT_GT(day_of(since->full.likely), 12.5);
  EXPECT_LT(day_of(since->full.likely), 17.0);
}

TEST(Colonization, NamesTheLookThatFoundItFull) {
  ColonizationCase jar = jar_of({{at_day(6), 30.0}, {at_day(9), 80.0}, {at_day(11), 99.0}});
  EXPECT_EQ(*forecast_colonization(jar)->seen_full, at_day(11));
  jar.shakes = {at_day(11.5)};
  EXPECT_FALSE(forecast_colonization(jar)->seen_full);
}

TEST(Colonization, RefusesWhatCannotBe) {
  const auto why = [](const ColonizationCase& jar) {
    const auto told = forecast_colonization(jar);
    return told.ok() ? std::string() : told.error().text;
  };
  EXPECT_THAT(why(jar_of({{at_day(6), 101.0}})), HasSubstr("101 %"));
  EXPECT_THAT(why(jar_of({{at_day(6), std::nan("")}})), HasSubstr("0 to 100 %"));
  EXPECT_THAT(why(jar_of({{at_day(-1), 5.0}})), HasSubstr("from the inoculation"));
  EXPECT_THAT(why(jar_of({{at_day(13), 5.0}})), HasSubstr("until now"));
  ColonizationCase jar = jar_of({});
  jar.shakes = {at_day(13)};
  EXPECT_THAT(why(jar), HasSubstr("a shake at"));
  jar = jar_of({});
  jar.window_to = days(13);
  EXPECT_THAT(why(jar), HasSubstr("'expect'"));
  jar = jar_of({});
  jar.ahead = {36.0};
  EXPECT_THAT(why(jar), HasSubstr("nothing grows at 36 C"));
  jar = jar_of(std::vector<GrownLook>(kLooksMost + 1, {at_day(6), 5.0}));
  EXPECT_THAT(why(jar), HasSubstr("1000 at most"));
}

// Looks that no curve explains still give an interval that is in order.
TEST(Colonization, StandsLooksThatMakeNoSense) {
  for (const auto& looks :
       {std::vector<GrownLook>{{at_day(1), 100.0}, {at_day(2), 0.0}, {at_day(3), 50.0}},
        {{at_day(3), 0.0}, {at_day(6), 0.0}, {at_day(12), 0.0}},
        {{at_day(0), 60.0}, {at_day(0), 60.0}, {at_day(0), 60.0}},
        {{at_day(1), 97.0}, {at_day(1), 97.0}, {at_day(2), 97.0}}}) {
    const auto told = forecast_colonization(jar_of(looks));
    ASSERT_TRUE(told.ok());
    EXPECT_LE(told->full.early, told->full.likely);
    EXPECT_LE(told->full.likely, told->full.late);
    EXPECT_GE(told->full.early, kDay0);
  }
}

TEST(ForecastError, IsPositiveWhereItCameLater) {
  const ForecastSpan told{at_day(10), at_day(12), at_day(15)};
  EXPECT_EQ(error_of(told, at_day(14)).off, Duration(days(2)));
  EXPECT_TRUE(error_of(told, at_day(14)).within);
  EXPECT_FALSE(error_of(told, at_day(9)).within);
}

}  // namespace
}  // namespace tubwarden
