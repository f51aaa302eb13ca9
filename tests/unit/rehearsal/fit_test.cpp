// The fit of a tub's history: figures drawn, played by the world and found again; what cannot be
// told; and what is refused.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fmt/format.h>

#include <cstdlib>

#include "fit_rig.hpp"
#include "rehearsal/fit_advice.hpp"

namespace tubwarden::rehearsal::fit_test {
namespace {

using testing::HasSubstr;

struct Score {
  int told = 0, within = 0;
  std::string out;  ///< what lay outside
};

void judge(const Truth& truth, std::uint64_t seed, Duration length, Score& score) {
  const WorldPlan plan = world_of(truth, seed);
  const auto fit = fit_tub(order_of(plan, truth.load), history_of(plan, length));
  ASSERT_TRUE(fit.ok()) << "seed " << seed << ": " << fit.error().text;
  for (const FittedFigure& f : fit->figures) {
    const auto is = true_of(truth, f.of);
    if (!f.told || !is) continue;
    ++score.told;
    if (f.low <= *is && *is <= f.high) {
      ++score.within;
      continue;
    }
    score.out += fmt::format("\n  seed {}: {} {:.3g}..{:.3g}, true {:.3g}", seed, key_of(f.of),
                             f.low, f.high, *is);
    // Outside of two standard deviations, but never far.
    EXPECT_NEAR(f.value, *is, std::max(2.0 * (f.high - f.low), 0.25 * *is))
        << key_of(f.of) << " of seed " << seed;
  }
}

/// TUBWARDEN_FITS=N fits so many tubs.
TEST(TubFit, FindsDrawnFiguresWithinTheirRanges) {
  const char* given = std::getenv("TUBWARDEN_FITS");
  const std::uint64_t tubs = given != nullptr ? std::strtoull(given, nullptr, 10) : 2;
  ASSERT_GE(tubs, 1u);
  Score score;
  for (std::uint64_t seed = 1; seed <= tubs; ++seed) {
    judge(drawn(seed % 2 == 0 ? Load::flush : Load::pinning, seed), seed, hours(5), score);
  }
  // Of 13 figures a history, all but a few are told. Of 95 % that should lie within two deviations
  // four fifths do (docs/model.md has why).
  EXPECT_GE(score.told, static_cast<int>(11 * tubs)) << score.out;
  EXPECT_GE(score.within, 0.8 * score.told) << score.out;
  std::printf("%d of %d figures of %d tubs within their ranges\n", score.within, score.told,
              static_cast<int>(tubs));
}

TEST(TubFit, TellsWhatTheHistoryCannotTellAsSuch) {
  // No CO2 sensor, and no fan.
  Truth truth;
  truth.load = Load::empty;
  WorldPlan plan = world_of(truth, 7);
  plan.chamber.sensors[0].quantities.pop_back();
  plan.chamber.actuators.pop_back();
  plan.strengths.pop_back();
  const auto fit = fit_tub(order_of(plan, truth.load), history_of(plan, hours(2) + minutes(30)));
  ASSERT_TRUE(fit.ok()) << fit.error().text;
  EXPECT_EQ(fit->of(FitOf::fan), nullptr);
  EXPECT_EQ(fit->of(FitOf::co2), nullptr);
  EXPECT_EQ(fit->of(FitOf::co2_lag), nullptr);
  EXPECT_EQ(fit->of(FitOf::bed_loss), nullptr);  // nothing measures the substrate
  ASSERT_NE(fit->of(FitOf::leak), nullptr);
  // What is not told does not change the model.
  for (const FittedFigure& f : fit->figures) {
    if (f.told || f.of != FitOf::leak) continue;
    EXPECT_EQ(fit->model.tub.leak_per_h, f.usual);
  }
}

TEST(TubFit, RefusesAHistoryThatIsTooShortTooSparseOrTooQuiet) {
  const Truth truth;
  const WorldPlan plan = world_of(truth, 3);
  const FitOrder order = order_of(plan, truth.load);
  const TubHistory whole = history_of(plan, hours(3));
  TubHistory history = whole;
  history.length_s = 3600.0;
  EXPECT_EQ(fit_tub(order, history).error().text,
            "this history is 1h long; at least 2h are needed for a fit");
  history = whole;
  history.readings.resize(300);
  EXPECT_THAT(fit_tub(order, history).error().text,
              HasSubstr("has 0 readings of humidity and 0 of CO2 behind its first 40m"));
  history = whole;
  history.runs.clear();
  EXPECT_THAT(fit_tub(order, history).error().text,
              HasSubstr("too quiet for a fit: 0 runs of outputs, and at least 5 are needed"));
  history = {};
  EXPECT_EQ(fit_tub(order, history).error().code, ErrorCode::refused);
}

TEST(TubFit, IsNotLedAstrayByWildReadings) {
  Truth truth;
  truth.leak_per_h = 2.0;
  const WorldPlan plan = world_of(truth, 5);
  TubHistory history = history_of(plan, hours(4));
  int wild = 0;
  for (std::size_t i = 900; i < history.readings.size(); i += 97) {
    HeardReading& r = history.readings[i];
    r.value *= r.quantity == Quantity::co2 ? 3.0 : 0.5;
    ++wild;
  }
  ASSERT_GT(wild, 50);
  const auto fit = fit_tub(order_of(plan, truth.load), history);
  ASSERT_TRUE(fit.ok()) << fit.error().text;
  EXPECT_NEAR(fit->of(FitOf::leak)->value, 2.0, 0.3);
  EXPECT_NEAR(fit->of(FitOf::mist)->value, 40.0, 1.0);
}

TEST(TubFit, SuggestsRatesAndLimitsOfWhatWasTold) {
  Truth truth;
  truth.mist_g_h = 60.0;  // half again of what the configuration says
  const WorldPlan plan = world_of(truth, 9);
  const auto fit = fit_tub(order_of(plan, truth.load), history_of(plan, hours(3)));
  ASSERT_TRUE(fit.ok()) << fit.error().text;
  const PhasePlan& phase = plan.tubs[0].profile->phases[0];
  const auto advice = advise(*fit, {plan.chamber, &phase, 18.0, 87.0, 5.0});
  std::map<std::string, FitAdvice> by_key;
  for (const FitAdvice& a : advice) by_key[a.actuator + " " + a.key] = a;
  ASSERT_TRUE(by_key.contains("mister rate"));
  EXPECT_EQ(by_key["mister rate"].now, "40 g/h");
  EXPECT_NEAR(std::stod(by_key["mister rate"].suggested), 60.0, 2.0);
  // 3.75 % of 40 L at 18 C are 0.0231 g (15.4 g/m3 saturated): 1.4 s of 60 g/h.
  EXPECT_EQ(by_key["mister longest_run"].suggested, "1.3s");
  EXPECT_EQ(by_key["mister longest_run"].now, "5s");
  EXPECT_TRUE(by_key.contains("mister shortest_rest"));
  EXPECT_TRUE(by_key.contains(" keep"));
}

}  // namespace
}  // namespace tubwarden::rehearsal::fit_test
