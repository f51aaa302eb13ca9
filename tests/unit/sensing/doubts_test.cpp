// The judges of a single sensor: spikes, rhythm, stuck, wet, and whether several agree.
#include <gtest/gtest.h>

#include <array>

#include "core/sensing/agreement.hpp"
#include "core/sensing/condensed_watch.hpp"
#include "core/sensing/rhythm.hpp"
#include "core/sensing/spike_filter.hpp"
#include "core/sensing/still_watch.hpp"

namespace tubwarden {
namespace {

constexpr Instant kStart{hours(1)};
constexpr SpikeLimits kHumidity{10.0, 5.0};
using Verdict = SpikeFilter::Verdict;

TEST(Spike, OneIsHeldAndTheNextNearTheOldIsTaken) {
  SpikeFilter filter;
  EXPECT_EQ(filter.judge(88, kStart, true, kHumidity), Verdict::taken);
  EXPECT_EQ(filter.judge(20, kStart + seconds(10), true, kHumidity), Verdict::held);
  EXPECT_EQ(filter.judge(88.2, kStart + seconds(20), true, kHumidity), Verdict::taken);
  EXPECT_EQ(filter.dropped(), 1u);
}

TEST(Spike, TheNextReadingBesideItConfirmsIt) {
  SpikeFilter filter;
  filter.judge(88, kStart, true, kHumidity);
  EXPECT_EQ(filter.judge(60, kStart + seconds(10), true, kHumidity), Verdict::held);
  EXPECT_EQ(filter.judge(59, kStart + seconds(20), true, kHumidity), Verdict::taken);
  EXPECT_EQ(filter.dropped(), 0u);
}

// Each reading of air that runs away is far from the one before; holding them all would let a
// heater run on the old one.
TEST(Spike, AirThatRunsAwayIsFollowedAtTheSecondReading) {
  SpikeFilter filter;
  constexpr SpikeLimits slow{1.0, 0.5};
  filter.judge(24, kStart, true, slow);
  int held_in_a_row = 0;
  for (int i = 1; i < 12; ++i) {
    const double runaway = 24 + 3.0 * i;
    if (filter.judge(runaway, kStart + seconds(10 * i), true, slow) == Verdict::held) {
      ++held_in_a_row;
    } else {
      held_in_a_row = 0;
    }
    ASSERT_LT(held_in_a_row, 2) << runaway;
  }
}

TEST(Spike, OneThatJumpsAboutIsJumping) {
  SpikeFilter filter;
  filter.judge(50, kStart, true, kHumidity);
  for (int i = 1; i <= SpikeFilter::kJumpingAfter; ++i) {
    EXPECT_FALSE(filter.jumping());
    filter.judge(i % 2 == 1 ? 95 : 5, kStart + seconds(i), true, kHumidity);
  }
  EXPECT_TRUE(filter.jumping());
  filter.judge(50.5, kStart + seconds(9), true, kHumidity);
  EXPECT_FALSE(filter.jumping());
}

TEST(Spike, AfterASilenceAnyValueIsAsGoodAsAnyOther) {
  SpikeFilter filter;
  filter.judge(88, kStart, true, kHumidity);
  EXPECT_EQ(filter.judge(40, kStart + hours(1), false, kHumidity), Verdict::taken);
}

TEST(Spike, SilenceConfirmsWhereASensorSpeaksOnChange) {
  SpikeFilter filter;
  filter.judge(88, kStart, true, kHumidity);
  filter.judge(40, kStart + seconds(10), true, kHumidity);
  EXPECT_EQ(filter.silence_until(minutes(1)), kStart + seconds(70));
  EXPECT_FALSE(filter.confirmed_by_silence(minutes(1), kStart + seconds(69)));
  const auto confirmed = filter.confirmed_by_silence(minutes(1), kStart + seconds(70));
  ASSERT_TRUE(confirmed);
  EXPECT_EQ(confirmed->value, 40);
  EXPECT_FALSE(filter.confirmed_by_silence(minutes(1), kStart + seconds(80)));
}

TEST(RhythmOf, IsTheMedianOnceLearned) {
  Rhythm rhythm;
  Instant at = kStart;
  for (std::size_t i = 0; i <= Rhythm::kLearnedBy; ++i, at += seconds(i == 3 ? 40 : 10)) {
    EXPECT_FALSE(rhythm.late_after());
    rhythm.heard(at);
    rhythm.heard(at + milliseconds(300));  // the other quantity of the same message
  }
  EXPECT_EQ(rhythm.interval(), seconds(10));
  EXPECT_EQ(rhythm.late_after(), seconds(100)) << "ten medians are more than two of the longest";
}

TEST(RhythmOf, AQuickSensorIsNotLateAtOnce) {
  Rhythm rhythm;
  for (int i = 0; i < 12; ++i) rhythm.heard(kStart + seconds(2 * i));
  EXPECT_EQ(rhythm.late_after(), kLateAtLeast);
}

Push mist(Duration from, Duration to, double amount) {
  return {Quantity::humidity, kStart + from, kStart + to, amount};
}

struct Still : testing::Test {
  void stands(double value, Duration from, Duration to) {
    for (Duration d = from; d <= to; d += seconds(10)) watch.reading(value, kStart + d);
  }
  bool stuck(std::initializer_list<Push> pushes, Duration at, bool on_change = false) const {
    const std::vector<Push> all(pushes);
    return watch.stuck(all, Quantity::humidity, 0.1, 0.1, on_change, kStart + at);
  }
  StillWatch watch;
};

TEST_F(Still, StandingStillAloneProvesNothing) {
  stands(88, Duration{0}, hours(2));
  EXPECT_FALSE(stuck({}, hours(2)));
}

TEST_F(Still, ARunThatShouldHaveMovedItThreeQuantaDoes) {
  stands(88, Duration{0}, minutes(5));
  const Push run = mist(minutes(1), minutes(1) + seconds(5), 0.31);
  EXPECT_FALSE(stuck({run}, minutes(3))) << "its effect may yet come";
  EXPECT_TRUE(stuck({run}, minutes(4)));
  EXPECT_FALSE(stuck({mist(minutes(1), minutes(1) + seconds(5), 0.29)}, minutes(4)));
}

TEST_F(Still, WhatMovedSinceIsNot) {
  stands(88, Duration{0}, minutes(2));
  stands(88.1, minutes(2) + seconds(10), minutes(5));
  EXPECT_FALSE(stuck({mist(minutes(1), minutes(1) + seconds(5), 5.0)}, minutes(5)));
}

TEST_F(Still, ARunTheOtherWayMayHaveUndoneIt) {
  stands(88, Duration{0}, minutes(8));
  EXPECT_FALSE(
      stuck({mist(minutes(1), minutes(2), 5.0), mist(minutes(2), minutes(3), -5.0)}, minutes(8)));
}

TEST_F(Still, OneThatSaidNothingMeanwhileIsSilentNotStuck) {
  watch.reading(88, kStart);
  const Push run = mist(minutes(1), minutes(1) + seconds(5), 5.0);
  EXPECT_FALSE(stuck({run}, minutes(10)));
  EXPECT_TRUE(stuck({run}, minutes(10), true)) << "on change its silence is a reading";
}

TEST(Condensed, AtTheTopForLongThoughTheAirGrewWarmer) {
  CondensedWatch watch;
  watch.reading(99.8, 100, kStart);
  watch.around(17.0, false, kStart);
  watch.around(18.0, false, kStart + minutes(10));
  EXPECT_FALSE(watch.condensed(kStart + minutes(29)));
  EXPECT_TRUE(watch.condensed(kStart + minutes(30)));
  watch.reading(98.5, 100, kStart + minutes(31));
  EXPECT_TRUE(watch.condensed(kStart + minutes(31))) << "not dry yet";
  watch.reading(97.9, 100, kStart + minutes(32));
  EXPECT_FALSE(watch.condensed(kStart + minutes(32)));
}

TEST(Condensed, FullAirThatNothingContradictsIsBelieved) {
  CondensedWatch watch;
  watch.reading(100, 100, kStart);
  watch.around(17.0, false, kStart);
  EXPECT_FALSE(watch.condensed(kStart + hours(5)));
}

TEST(Condensed, AMistThatIsLongOverIsEvidenceToo) {
  CondensedWatch watch;
  watch.around(17.0, true, kStart);
  watch.reading(100, 100, kStart + minutes(1));
  EXPECT_FALSE(watch.condensed(kStart + minutes(30)));
  EXPECT_TRUE(watch.condensed(kStart + minutes(31)));
}

TEST(Agreement, TheOneThatSaysSomethingElseIsOut) {
  std::array<Voice, 3> voices = {{{88, 2}, {89, 2}, {60, 2}}};
  find_outliers(voices);
  EXPECT_FALSE(voices[0].out);
  EXPECT_FALSE(voices[1].out);
  EXPECT_TRUE(voices[2].out);
}

TEST(Agreement, OfTwoThatDifferNobodyKnowsWhich) {
  std::array<Voice, 2> voices = {{{88, 2}, {80, 2}}};
  find_outliers(voices);
  EXPECT_TRUE(voices[0].out && voices[1].out);
  std::array<Voice, 2> near = {{{88, 2}, {84, 2}}};
  find_outliers(near);
  EXPECT_FALSE(near[0].out || near[1].out) << "within the sum of their accuracies";
}

TEST(Agreement, OneAtTheTopOfItsRangeSaysAtLeast) {
  std::array<Voice, 2> voices = {{{5000, 50, true}, {9000, 50}}};
  find_outliers(voices);
  EXPECT_FALSE(voices[0].out || voices[1].out);
}

TEST(Agreement, TheyMayDifferForAWhile) {
  AgreementTimer timer;
  timer.judge(true, kStart);
  EXPECT_FALSE(timer.disagrees(kStart + kDisagreeAfter - seconds(1)));
  EXPECT_TRUE(timer.disagrees(kStart + kDisagreeAfter));
  timer.judge(false, kStart + kDisagreeAfter);
  EXPECT_FALSE(timer.disagrees(kStart + kDisagreeAfter));
}

}  // namespace
}  // namespace tubwarden
