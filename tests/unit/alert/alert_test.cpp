// The life of an alert: raised once, returned once, by delays that begin anew.
#include <gtest/gtest.h>

#include <random>
#include <utility>
#include <vector>

#include "core/alert/alert.hpp"

namespace tubwarden {
namespace {

using Change = AlertTimer::Change;
constexpr Instant kZero{hours(10)};
constexpr Duration kOn = minutes(10);
constexpr Duration kOff = minutes(1);

Instant at(Duration d) { return kZero + d; }

TEST(AlertTimer, RaisesOnceAndReturnsOnce) {
  AlertTimer timer;
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(seconds(0))), Change::none);
  EXPECT_EQ(timer.due(), at(kOn));
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(kOn - Duration{1})), Change::none);
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(kOn)), Change::raised);
  EXPECT_TRUE(timer.raised());
  EXPECT_EQ(timer.since(), kZero);
  EXPECT_FALSE(timer.due());
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(hours(1))), Change::none);
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(hours(2))), Change::none);
  EXPECT_EQ(timer.due(), at(hours(2) + kOff));
  EXPECT_EQ(timer.since(), kZero) << "while it stands raised";
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(hours(2) + kOff)), Change::returned);
  EXPECT_FALSE(timer.raised());
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(hours(3))), Change::none);
  EXPECT_FALSE(timer.due());
}

TEST(AlertTimer, AShortBreakBeginsTheDelayAnew) {
  AlertTimer timer;
  timer.judge(true, kOn, kOff, at(seconds(0)));
  timer.judge(false, kOn, kOff, at(minutes(9)));
  EXPECT_FALSE(timer.due()) << "nothing to wait for";
  timer.judge(true, kOn, kOff, at(minutes(9) + seconds(1)));
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(minutes(18))), Change::none);
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(minutes(19) + seconds(1))), Change::raised);
  EXPECT_EQ(timer.since(), at(minutes(9) + seconds(1)));
}

TEST(AlertTimer, AShortReliefDoesNotReturnIt) {
  AlertTimer timer;
  timer.judge(true, kOn, kOff, at(seconds(0)));
  timer.judge(true, kOn, kOff, at(kOn));
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(minutes(11))), Change::none);
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(minutes(11) + seconds(59))), Change::none);
  EXPECT_TRUE(timer.raised());
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(minutes(12))), Change::none);
  EXPECT_EQ(timer.judge(false, kOn, kOff, at(minutes(13))), Change::returned);
}

TEST(AlertTimer, WithoutDelaysItFollows) {
  AlertTimer timer;
  for (int i = 0; i < 4; ++i) {
    const bool holds = i % 2 == 0;
    EXPECT_EQ(timer.judge(holds, Duration{0}, Duration{0}, at(seconds(i))),
              holds ? Change::raised : Change::returned);
  }
}

TEST(AlertTimer, WithdrawnItReturnsIfItStood) {
  AlertTimer timer;
  EXPECT_EQ(timer.withdraw(), Change::none);
  timer.judge(true, kOn, kOff, at(seconds(0)));
  EXPECT_EQ(timer.withdraw(), Change::none);
  EXPECT_FALSE(timer.due());
  timer.judge(true, kOn, kOff, at(minutes(9)));
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(minutes(18))), Change::none) << "anew from 9 min";
  EXPECT_EQ(timer.judge(true, kOn, kOff, at(minutes(19))), Change::raised);
  EXPECT_EQ(timer.withdraw(), Change::returned);
  EXPECT_EQ(timer.withdraw(), Change::none);
}

/// Looks at the whole past, a second a sample: raised once the condition held for all of the delay.
TEST(AlertTimer, AgreesWithAnOracleOverSeededSequences) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    const auto uniform = [&](int low, int high) {
      return std::uniform_int_distribution<int>(low, high)(random);
    };
    const int on = uniform(0, 20), off = uniform(0, 20), pace = uniform(2, 30);
    AlertTimer timer;
    std::vector<bool> past;
    bool holds = false, raised = false;
    int raises = 0, returns = 0;
    for (int i = 0; i < 500; ++i) {
      if (uniform(1, pace) == 1) holds = !holds;
      past.push_back(holds);
      // For how many seconds up to now has it been so without a break?
      int stood = 0;
      while (stood < i && past[static_cast<std::size_t>(i - stood - 1)] == holds) ++stood;
      Change expected = Change::none;
      if (holds && !raised && stood >= on) expected = Change::raised;
      if (!holds && raised && stood >= off) expected = Change::returned;
      if (expected != Change::none) raised = !raised;
      ASSERT_EQ(timer.judge(holds, seconds(on), seconds(off), at(seconds(i))), expected)
          << "seed " << seed << " second " << i;
      raises += expected == Change::raised;
      returns += expected == Change::returned;
      ASSERT_EQ(timer.raised(), raised);
      ASSERT_EQ(timer.due().has_value(), holds != raised) << "seed " << seed << " second " << i;
      if (timer.due()) {
        ASSERT_EQ(*timer.due(), at(seconds(i - stood + (holds ? on : off))));
      }
    }
    ASSERT_LE(std::abs(raises - returns - (raised ? 1 : 0)), 0);
  }
}

TEST(AlertRank, ByName) {
  for (const auto& [rank, name] : {std::pair{AlertRank::now, "now"},
                                   {AlertRank::today, "today"},
                                   {AlertRank::noted, "noted"}}) {
    EXPECT_EQ(name_of(rank), name);
    EXPECT_EQ(rank_named(name), rank);
  }
  EXPECT_FALSE(rank_named("soon"));
  EXPECT_FALSE(rank_named(""));
}

}  // namespace
}  // namespace tubwarden
