// What a chart is drawn of: columns of least and most, bands, runs and alerts in their time.
#include "rehearsal/trace.hpp"

#include <gtest/gtest.h>

namespace tubwarden::rehearsal {
namespace {

WorldPlan one_mister() {
  WorldPlan plan;
  plan.chamber.actuators.resize(1);
  return plan;
}

std::array<double, kQuantities> humid(double pct) { return {pct, 18.0, 19.0, 420.0}; }

AlertChange alert(bool raised) { return {{{"tub-1", "humidity_low"}, {}, "too low", {}}, raised}; }

TEST(Trace, PutsWhatItSeesIntoTheColumnOfItsTime) {
  Trace trace(one_mister(), hours(1), 6);  // ten minutes each
  EXPECT_DOUBLE_EQ(trace.column_s(), 600.0);
  trace.passed(minutes(5), 300.0, humid(80.0));
  trace.passed(minutes(10), 300.0, humid(90.0));  // ends at the edge: still the first
  trace.passed(minutes(11), 60.0, humid(70.0));
  trace.heard(minutes(59), 0, Quantity::humidity, 71.5);
  trace.heard(hours(1), 0, Quantity::humidity, 72.5);  // the end itself is in the last
  const TracedQuantity& humidity = trace.of(Quantity::humidity);
  EXPECT_FLOAT_EQ(humidity.truth[0].least, 80.0f);
  EXPECT_FLOAT_EQ(humidity.truth[0].most, 90.0f);
  EXPECT_FLOAT_EQ(humidity.truth[1].most, 70.0f);
  EXPECT_TRUE(humidity.truth[2].empty());
  EXPECT_TRUE(humidity.sensed[0].empty());
  EXPECT_FLOAT_EQ(humidity.sensed[5].least, 71.5f);
  EXPECT_FLOAT_EQ(humidity.sensed[5].most, 72.5f);
  EXPECT_FLOAT_EQ(trace.of(Quantity::co2).truth[0].least, 420.0f);
}

TEST(Trace, CountsRunsAtTheirLevel) {
  Trace trace(one_mister(), hours(1), 6);
  trace.switched(Duration{0}, 0, kRun, 20.0);
  trace.passed(seconds(30), 30.0, humid(80.0));
  trace.switched(seconds(30), 0, kRun / 2, 20.0);
  trace.passed(seconds(50), 20.0, humid(80.0));
  trace.switched(seconds(50), 0, kRest, 20.0);
  trace.passed(minutes(10), 550.0, humid(80.0));
  EXPECT_FLOAT_EQ(trace.runs()[0][0], 40.0f);
  EXPECT_FLOAT_EQ(trace.runs()[0][1], 0.0f);
}

TEST(Trace, KeepsTheLastBandOfAColumnAndOnlyItsChanges) {
  Trace trace(one_mister(), hours(1), 6);
  Bands bands;
  bands[index_of(Quantity::humidity)] = Band{80.0, 90.0};
  trace.kept(minutes(1), bands);
  bands[index_of(Quantity::humidity)] = Band{85.0, 90.0};
  trace.kept(minutes(2), bands);
  trace.kept(minutes(25), bands);
  trace.kept(minutes(45), Bands{});
  const auto& told = trace.bands(Quantity::humidity);
  ASSERT_EQ(told.size(), 2u);
  EXPECT_EQ(told[0], (TracedBand{0, Band{85.0, 90.0}}));
  EXPECT_EQ(told[1], (TracedBand{4, std::nullopt}));
  EXPECT_TRUE(trace.bands(Quantity::co2).empty());
}

TEST(Trace, EndsAnAlertWithItsReturnAndCountsWhatItDoesNotKeep) {
  Trace trace(one_mister(), hours(1), 6);
  trace.alerted(minutes(5), alert(true));
  trace.alerted(minutes(9), alert(false));
  trace.alerted(minutes(20), alert(true));
  ASSERT_EQ(trace.alerts().size(), 2u);
  EXPECT_EQ(trace.alerts()[0].at, minutes(5));
  EXPECT_EQ(trace.alerts()[0].returned, minutes(9));
  EXPECT_FALSE(trace.alerts()[1].returned.has_value());
  for (std::size_t i = 0; i < Trace::kEventsMax; ++i) trace.alerted(minutes(30), alert(true));
  EXPECT_EQ(trace.alerts().size(), Trace::kEventsMax);
  EXPECT_EQ(trace.alerts_untold(), 2u);
}

}  // namespace
}  // namespace tubwarden::rehearsal
