#include "core/air/ventilation.hpp"

#include <gtest/gtest.h>

#include <vector>

#include "unit/air/occupancy.hpp"

namespace tubwarden {
namespace {

Duration in_hours(double h) { return from_seconds(h * 3600.0); }

// Cases of the trade's reference values, section 5, computed from the forms of ASTM E741.
TEST(Ventilation, DecayBetweenTwoReadings) {
  EXPECT_NEAR(air_change_rate({2000}, {1000}, {400}, in_hours(0.5))->value, 1.9617, 5e-5);
  EXPECT_NEAR(air_change_rate({1200}, {700}, {400}, in_hours(0.75))->value, 1.3078, 5e-5);
  EXPECT_NEAR(air_change_rate({1500}, {800}, {420}, in_hours(1))->value, 1.0445, 5e-5);
  EXPECT_NEAR(air_change_rate({5000}, {1000}, {420}, in_hours(0.25))->value, 8.2657, 5e-5);
}

TEST(Ventilation, NoRateWithoutADecayToJudge) {
  EXPECT_FALSE(air_change_rate({400}, {300}, {400}, in_hours(1)));
  EXPECT_FALSE(air_change_rate({900}, {400}, {400}, in_hours(1)));
  EXPECT_FALSE(air_change_rate({900}, {800}, {400}, Duration{0}));
  EXPECT_LT(air_change_rate({800}, {900}, {400}, in_hours(1))->value, 0) << "a source is at work";
}

TEST(Ventilation, SteadyStateAndBuildUp) {
  struct Row {
    double changes, steady, after_half_hour;
  };
  for (const Row& row :
       {Row{0.5, 1420, 641.2}, Row{1, 920, 616.7}, Row{2, 670, 578.0}, Row{4, 545, 528.1}}) {
    const LitresPerHour flow{1000 * row.changes};
    const auto steady = steady_state({420}, {0.5}, flow);
    ASSERT_TRUE(steady);
    EXPECT_NEAR(steady->value, row.steady, 1e-9);
    const auto rate = air_change_rate(flow, {1000});
    ASSERT_TRUE(rate);
    EXPECT_DOUBLE_EQ(rate->value, row.changes);
    EXPECT_NEAR(co2_after({420}, *steady, *rate, in_hours(0.5)).value, row.after_half_hour, 0.051);
  }
  EXPECT_FALSE(steady_state({420}, {0.5}, {0}));
  EXPECT_FALSE(air_change_rate(LitresPerHour{10}, {0}));
}

// Section 5: 0.406 L/h of CO2 needs 0.70 m3/h for 1000 ppm over 420, 0.257 for 2000.
TEST(Ventilation, AirForATubInFullFlush) {
  EXPECT_NEAR(steady_state({420}, {0.406}, {700})->value, 1000, 0.51);
  EXPECT_NEAR(steady_state({420}, {0.406}, {257})->value, 2000, 0.51);
}

TEST(Ventilation, FitFindsAMadeDecayAgain) {
  std::vector<Co2Sample> samples;
  for (int minute = 0; minute <= 60; ++minute) {
    const Duration at = minutes(minute);
    samples.push_back({at + hours(900), co2_after({2400}, {420}, {1.7}, at)});
  }
  samples.push_back({hours(950), {420}});  // at the background: says nothing of the rate
  const auto fit = fit_decay(samples, {420});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->rate.value, 1.7, 1e-9);
  EXPECT_NEAR(fit->r_squared, 1.0, 1e-9);
}

TEST(Ventilation, FitWantsThreeReadingsAtDifferentTimes) {
  const std::vector<Co2Sample> two = {{Duration{0}, {900}}, {hours(1), {600}}};
  EXPECT_FALSE(fit_decay(two, {420}));
  const std::vector<Co2Sample> at_once(5, {hours(1), {600}});
  EXPECT_FALSE(fit_decay(at_once, {420}));
  EXPECT_FALSE(fit_decay({}, {420}));
  const std::vector<Co2Sample> level = {{hours(0), {900}}, {hours(1), {900}}, {hours(2), {900}}};
  ASSERT_TRUE(fit_decay(level, {420}));
  EXPECT_DOUBLE_EQ(fit_decay(level, {420})->rate.value, 0.0);
}

// Section 5: the empty office from 18:24:59 to 21:24:59 on 9 February 2015, fitted there.
TEST(Ventilation, DecayOfARealRoom) {
  const auto rows = read_occupancy("datatraining.txt");
  if (rows.empty()) GTEST_SKIP() << kNoOccupancy;
  std::vector<Co2Sample> samples;
  for (const OccupancyRow& row : rows) {
    if (row.date < "2015-02-09 18:24:59" || row.date > "2015-02-09 21:24:59") continue;
    samples.push_back({from_seconds(row.seconds), {row.co2_ppm}});
  }
  ASSERT_EQ(samples.size(), 181u);
  const auto fit400 = fit_decay(samples, {400});
  ASSERT_TRUE(fit400);
  EXPECT_NEAR(fit400->rate.value, 0.4546, 5e-5);
  EXPECT_NEAR(fit400->r_squared, 0.9965, 5e-5);
  const auto fit420 = fit_decay(samples, {420});
  ASSERT_TRUE(fit420);
  EXPECT_NEAR(fit420->rate.value, 0.4712, 5e-5);
  EXPECT_NEAR(fit420->r_squared, 0.9958, 5e-5);
  const auto two = air_change_rate(samples.front().co2, samples.back().co2, {400},
                                   samples.back().at - samples.front().at);
  ASSERT_TRUE(two);
  EXPECT_NEAR(two->value, 0.4652, 5e-5);
}

}  // namespace
}  // namespace tubwarden
