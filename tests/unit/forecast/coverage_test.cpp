// What the stated interval is worth: grows drawn from another law than the one that is fitted, in a
// temperature that goes up and down by day and night, judged by an eye that errs.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <random>

#include "core/forecast/colonization.hpp"

namespace tubwarden {
namespace {

const WallTime kStart{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}.time_since_epoch()};

WallTime day(double d) { return kStart + milliseconds(std::llround(d * 86'400'000.0)); }
double day_of(WallTime t) { return static_cast<double>((t - kStart).count()) / 86'400'000.0; }

/// Ratkowsky's wide-range form (J. Bacteriol. 154, 1983, 1222-1226), not the one that is fitted:
/// sqrt(rate) = b (T - Tmin) (1 - exp(c (T - Tmax))), here over its value at 24 C.
double ratkowsky(double t, double least, double most) {
  const auto root = [&](double x) {
    return x > least && x < most ? (x - least) * (1.0 - std::exp(0.25 * (x - most))) : 0.0;
  };
  return std::pow(root(t) / root(24.0), 2.0);
}

/// Gompertz in Zwietering's form, % of the grain, in days at 24 C.
double gompertz(double t, double pct_a_day, double lag) {
  return 100.0 * std::exp(-std::exp(pct_a_day * std::numbers::e * (lag - t) / 100.0 + 1.0));
}

/// Within 7 points of the truth; or, at times, further off: beyond 7 in one look of six.
enum class Eye { even, normal };

struct Grow {
  ColonizationCase jar;
  double t20 = 0.0, t30 = 0.0, full = 0.0;  ///< the truth, days
};

/// One grow up to a look that is drawn among those from the third on and before it is full.
Grow drawn(unsigned seed, Eye eye) {
  std::mt19937_64 dice(seed);
  const auto even = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(dice);
  };
  const double rate = even(9.0, 18.0), lag = even(1.5, 5.0);
  const double least = even(1.0, 6.0), most = even(33.0, 36.0);
  const double mean = even(20.0, 25.0), swing = even(0.5, 3.0), phase = even(0.0, 1.0);
  const auto warmth = [&](double d) {
    return mean + swing * std::sin(2.0 * std::numbers::pi * (d + phase));
  };
  constexpr double kStep = 1.0 / 24.0;
  std::vector<double> grown;
  Grow grow;
  for (double d = 0.0, w = 0.0; grow.full == 0.0 && d < 120.0; d += kStep) {
    const double g = gompertz(w, rate, lag);
    grown.push_back(g);
    if (g >= kShakeFromPct && grow.t20 == 0.0) grow.t20 = d;
    if (g >= kShakeToPct && grow.t30 == 0.0) grow.t30 = d;
    if (g >= kFullPct) grow.full = d;
    w += kStep * ratkowsky(warmth(d + kStep / 2), least, most);
  }
  ColonizationCase& jar = grow.jar;
  jar.inoculated = kStart;
  for (double d = even(2.0, 5.0); d < grow.full; d += even(2.0, 3.0)) {
    const double off =
        eye == Eye::even ? even(-7.0, 7.0) : std::normal_distribution<double>(0.0, 5.0)(dice);
    const double truth = grown[static_cast<std::size_t>(d / kStep)];
    const double seen = std::clamp(std::round(truth + off), 0.0, 100.0);
    if (seen >= kFullPct && jar.looks.size() >= kLooksLeast) break;  // nothing left to forecast
    jar.looks.push_back({day(d), seen});
  }
  const std::size_t most_looks = std::max<std::size_t>(jar.looks.size(), 3);
  const auto kept = std::uniform_int_distribution<std::size_t>(3, most_looks)(dice);
  jar.looks.resize(std::min(kept, jar.looks.size()));
  jar.now = jar.looks.back().at;
  const double sensor_off = even(-0.5, 0.5);
  for (double d = 0.0; d < day_of(jar.now); d += 0.125) {
    jar.history.push_back({day(d), Celsius{warmth(d + 0.0625) + sensor_off}});
  }
  jar.ahead = {mean};
  jar.ahead_halfwidth_c = 1.0;
  jar.window_from = days(14);
  jar.window_to = days(21);
  return grow;
}

struct Coverage {
  int grows = 0, held20 = 0, held30 = 0, held_full = 0;
  double off = 0.0, width = 0.0;
};

bool holds(const ForecastSpan& told, double d) {
  return day_of(told.early) <= d && d <= day_of(told.late);
}

Coverage cover(unsigned first, unsigned last, Eye eye) {
  Coverage c;
  for (unsigned seed = first; seed <= last; ++seed) {
    const Grow grow = drawn(seed, eye);
    const auto told = forecast_colonization(grow.jar);
    EXPECT_TRUE(told.ok()) << "seed " << seed;
    if (!told.ok() || told->basis != ForecastBasis::looks || !told->shake_from) {
      ADD_FAILURE() << "seed " << seed << ": nothing fitted";
      continue;
    }
    ++c.grows;
    c.held20 += holds(*told->shake_from, grow.t20) ? 1 : 0;
    c.held30 += holds(*told->shake_to, grow.t30) ? 1 : 0;
    c.held_full += holds(told->full, grow.full) ? 1 : 0;
    c.off += day_of(told->full.likely) - grow.full;
    c.width += day_of(told->full.late) - day_of(told->full.early);
  }
  std::printf(
      "grows %u..%u: interval holds 20 %% in %d, 30 %% in %d, full in %d of %d; full is told "
      "%+.1f d off on average, %.1f d wide\n",
      first, last, c.held20, c.held30, c.held_full, c.grows, c.off / c.grows, c.width / c.grows);
  return c;
}

void expect_honest(int held, int of) {
  EXPECT_GE(held * 100, 70 * of);
  EXPECT_LE(held * 100, 90 * of);
}

class Interval : public ::testing::TestWithParam<unsigned> {};

TEST_P(Interval, HoldsTheTruthOfGrowsByAnotherLaw) {
  const Coverage c = cover(GetParam(), GetParam() + 199, Eye::even);
  expect_honest(c.held20, c.grows);
  expect_honest(c.held30, c.grows);
  expect_honest(c.held_full, c.grows);
}

TEST_P(Interval, HoldsItForAnEyeThatIsAtTimesFurtherOff) {
  const Coverage c = cover(GetParam(), GetParam() + 199, Eye::normal);
  expect_honest(c.held20, c.grows);
  expect_honest(c.held30, c.grows);
  expect_honest(c.held_full, c.grows);
}

INSTANTIATE_TEST_SUITE_P(TwoSets, Interval, ::testing::Values(1U, 5001U));

}  // namespace
}  // namespace tubwarden
