// The limits of an actuator, one by one and against a naive oracle.
#include <gtest/gtest.h>

#include <random>
#include <vector>

#include "core/climate/run_gate.hpp"

namespace tubwarden {
namespace {

constexpr Instant kZero{hours(10)};

TEST(RunGate, AStartCountsAsAStopJustNow) {
  RunGate gate({Duration{0}, seconds(20), Duration{0}, 0}, kZero);
  auto granted = gate.ask(true, false, kZero + seconds(19));
  EXPECT_FALSE(granted.run);
  EXPECT_EQ(granted.lock, Lock::shortest_rest);
  EXPECT_EQ(granted.until, kZero + seconds(20));
  granted = gate.ask(true, false, kZero + seconds(20));
  EXPECT_TRUE(granted.run);
  EXPECT_EQ(granted.lock, Lock::none);
  EXPECT_FALSE(granted.until);
}

TEST(RunGate, ShortestRunHoldsAndYields) {
  const RunLimits limits{seconds(10), Duration{0}, Duration{0}, 0};
  RunGate gate(limits, kZero);
  gate.ask(true, false, kZero);
  const auto granted = gate.ask(false, false, kZero + seconds(9));
  EXPECT_TRUE(granted.run);
  EXPECT_EQ(granted.lock, Lock::shortest_run);
  EXPECT_EQ(granted.until, kZero + seconds(10));
  EXPECT_FALSE(gate.ask(false, false, kZero + seconds(10)).run);

  RunGate yields(limits, kZero);
  yields.ask(true, false, kZero);
  EXPECT_FALSE(yields.ask(false, true, kZero + seconds(1)).run);
}

TEST(RunGate, LongestRunThenARest) {
  RunGate gate({Duration{0}, seconds(20), seconds(5), 0}, kZero - hours(1));
  auto granted = gate.ask(true, false, kZero);
  EXPECT_EQ(granted.until, kZero + seconds(5)) << "when it changes by itself";
  granted = gate.ask(true, false, kZero + seconds(5));
  EXPECT_FALSE(granted.run);
  EXPECT_EQ(granted.lock, Lock::longest_run);
  EXPECT_EQ(granted.until, kZero + seconds(25));
  granted = gate.ask(true, false, kZero + seconds(6));
  EXPECT_EQ(granted.lock, Lock::longest_run) << "it is still why";
  EXPECT_TRUE(gate.ask(true, false, kZero + seconds(25)).run);
}

TEST(RunGate, ALongestRunThatNobodyWantsLongerIsNoLock) {
  RunGate gate({Duration{0}, seconds(20), seconds(5), 0}, kZero - hours(1));
  gate.ask(true, false, kZero);
  const auto granted = gate.ask(false, false, kZero + seconds(5));
  EXPECT_FALSE(granted.run);
  EXPECT_EQ(granted.lock, Lock::none);
}

TEST(RunGate, WithoutAShortestRestThereIsStillOneAfterALongestRun) {
  RunGate gate({Duration{0}, Duration{0}, seconds(5), 0}, kZero);
  gate.ask(true, false, kZero);
  const auto granted = gate.ask(true, false, kZero + seconds(5));
  EXPECT_FALSE(granted.run);
  EXPECT_EQ(granted.until, kZero + seconds(5) + RunGate::kRestAfterLongest);
  EXPECT_FALSE(gate.ask(true, false, *granted.until - Duration{1}).run);
  EXPECT_TRUE(gate.ask(true, false, *granted.until).run);
}

TEST(RunGate, StartsAnHourIsASlidingHour) {
  RunGate gate({Duration{0}, Duration{0}, Duration{0}, 2}, kZero);
  const auto cycle = [&](Instant at) {
    const bool run = gate.ask(true, false, at).run;
    gate.ask(false, false, at + seconds(1));
    return run;
  };
  EXPECT_TRUE(cycle(kZero));
  EXPECT_TRUE(cycle(kZero + minutes(30)));
  EXPECT_EQ(gate.starts_last_hour(kZero + minutes(31)), 2);
  const auto granted = gate.ask(true, false, kZero + minutes(59));
  EXPECT_EQ(granted.lock, Lock::starts_per_hour);
  EXPECT_EQ(granted.until, kZero + hours(1));
  EXPECT_EQ(gate.starts_last_hour(kZero + hours(1)), 1);
  EXPECT_TRUE(cycle(kZero + hours(1)));
  EXPECT_FALSE(cycle(kZero + minutes(89)));
  EXPECT_TRUE(cycle(kZero + minutes(90)));
}

TEST(RunGate, MoreThanItsMaximumIsItsMaximum) {
  RunGate gate({Duration{0}, Duration{0}, Duration{0}, 100000}, kZero);
  int starts = 0;
  for (int i = 0; i < 1000; ++i) {
    starts += gate.ask(true, false, kZero + seconds(2 * i)).run;
    gate.ask(false, false, kZero + seconds(2 * i + 1));
  }
  EXPECT_EQ(starts, RunGate::kStartsPerHourMax);
}

TEST(RunGate, ForceIsPastAllLimitsAndCounts) {
  RunGate gate({seconds(10), seconds(20), Duration{0}, 1}, kZero);
  gate.force(true, kZero + seconds(1));
  EXPECT_TRUE(gate.running());
  EXPECT_EQ(gate.since(), kZero + seconds(1));
  gate.force(true, kZero + seconds(2));
  EXPECT_EQ(gate.since(), kZero + seconds(1)) << "it runs already";
  EXPECT_EQ(gate.starts_last_hour(kZero + seconds(2)), 1);
  gate.force(false, kZero + seconds(3));
  EXPECT_FALSE(gate.running());
  EXPECT_EQ(gate.ask(true, false, kZero + seconds(4)).lock, Lock::shortest_rest);
  gate.force(false, kZero + seconds(5));
  EXPECT_EQ(gate.since(), kZero + seconds(3)) << "it rests already";
}

TEST(RunGate, NewLimitsCountFromNow) {
  RunGate gate({}, kZero);
  gate.ask(true, false, kZero);
  gate.limits({seconds(10), Duration{0}, Duration{0}, 0});
  EXPECT_EQ(gate.ask(false, false, kZero + seconds(5)).lock, Lock::shortest_run);
}

/// Keeps everything and looks at all of it: slow, and too plain to be wrong in the same way.
class Oracle {
 public:
  Oracle(RunLimits limits, Instant now) : l_(limits), stop_(now) {}
  bool ask(bool wanted, bool yields, Instant now) {
    const bool capped = l_.longest_run > Duration{0};
    if (runs_ && capped && now >= starts_.back() + l_.longest_run) return stop(now, true);
    if (runs_ && !wanted && (yields || now >= starts_.back() + l_.shortest_run)) {
      return stop(now, false);
    }
    if (runs_ || !wanted) return runs_;
    Duration rest = l_.shortest_rest;
    if (by_longest_ && rest < RunGate::kRestAfterLongest) rest = RunGate::kRestAfterLongest;
    if (now < stop_ + rest) return false;
    int recent = 0;
    for (Instant s : starts_) recent += s > now - hours(1) ? 1 : 0;
    if (l_.starts_per_hour > 0 && recent >= l_.starts_per_hour) return false;
    starts_.push_back(now);
    return runs_ = true;
  }

 private:
  bool stop(Instant now, bool by_longest) {
    stop_ = now;
    by_longest_ = by_longest;
    return runs_ = false;
  }
  RunLimits l_;
  bool runs_ = false;
  bool by_longest_ = false;
  Instant stop_;
  std::vector<Instant> starts_;
};

TEST(RunGate, AgreesWithTheOracleOverSeededSequences) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    const auto uniform = [&](int low, int high) {
      return std::uniform_int_distribution<int>(low, high)(random);
    };
    const auto maybe = [&](int high) {
      return Duration(seconds(uniform(0, 2) == 0 ? 0 : uniform(1, high)));
    };
    RunLimits limits{maybe(20), maybe(60), maybe(120), uniform(0, 2) == 0 ? 0 : uniform(1, 30)};
    if (limits.longest_run > Duration{0}) limits.longest_run += limits.shortest_run;
    RunGate gate(limits, kZero);
    Oracle oracle(limits, kZero);
    Instant now = kZero;
    bool wanted = false;
    int ran = 0;
    for (int i = 0; i < 600; ++i) {
      now += milliseconds(uniform(0, 20000));
      if (uniform(0, 2) == 0) wanted = !wanted;
      const bool yields = uniform(0, 9) == 0;
      const auto granted = gate.ask(wanted, yields, now);
      ASSERT_EQ(granted.run, oracle.ask(wanted, yields, now)) << "seed " << seed << " step " << i;
      ASSERT_EQ(gate.running(), granted.run);
      // A wish that is not granted names its lock, and when it falls.
      ASSERT_EQ(granted.lock != Lock::none, granted.run != wanted) << seed << " " << i;
      if (granted.lock != Lock::none) {
        ASSERT_TRUE(granted.until);
        ASSERT_GT(*granted.until, now);
      }
      ran += granted.run;
    }
    EXPECT_GT(ran, 0) << seed;
  }
}

}  // namespace
}  // namespace tubwarden
