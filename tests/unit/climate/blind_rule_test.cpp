// The share of a day that a blind actuator repeats, and its runs. Values by hand.
#include "core/climate/blind_rule.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

void pass(DutyBook& book, Duration run, Duration rest, int times, bool counts = true) {
  for (int i = 0; i < times; ++i) {
    book.add(run, kRun, counts);
    book.add(rest, kRest, counts);
  }
}

TEST(DutyBook, KnowsItsShareFromSixHoursOn) {
  DutyBook book;
  pass(book, seconds(6), seconds(144), 143);  // 4 %, 5.96 h
  EXPECT_FALSE(book.share());
  pass(book, seconds(6), seconds(144), 2);
  ASSERT_TRUE(book.share());
  EXPECT_NEAR(*book.share(), 0.04, 1e-3);
}

TEST(DutyBook, KeepsADayAndNoMore) {
  DutyBook book;
  pass(book, minutes(30), minutes(30), 24);
  EXPECT_NEAR(*book.share(), 0.5, 0.03);
  pass(book, minutes(6), minutes(54), 25);
  EXPECT_NEAR(*book.share(), 0.1, 1e-9);
}

TEST(DutyBook, DoesNotCountWhatWasNotByItsRules) {
  DutyBook book;
  pass(book, minutes(6), minutes(54), 12);
  pass(book, minutes(60), minutes(0), 12, false);
  EXPECT_NEAR(*book.share(), 0.1, 1e-9);
  EXPECT_EQ(book.ran(), minutes(12 * 6 + 12 * 60)) << "all that it ran";
}

TEST(DutyBook, CountsALevelBetweenByItsShare) {
  DutyBook book;
  book.add(hours(8), 500, true);
  EXPECT_NEAR(*book.share(), 0.5, 1e-9);
}

TEST(DutyBook, GoesByWhatAnEarlierRunKnewUntilItKnows) {
  DutyBook book;
  book.known(0.07);
  EXPECT_EQ(book.share(), 0.07);
  pass(book, minutes(6), minutes(54), 7);
  EXPECT_NEAR(*book.share(), 0.1, 1e-9);
}

TEST(BlindRun, IsAsLongAsItsEffectAndLimitsWant) {
  const RunLimits none;
  EXPECT_EQ(blind_run(Effect::humidify, none, 0.04), milliseconds(2400));  // 4 % of a minute
  EXPECT_EQ(blind_run(Effect::heat, none, 0.25), seconds(150));            // 25 % of ten
  EXPECT_EQ(blind_run(Effect::humidify, {seconds(5), {}, {}, 0}, 0.04), seconds(5));
  EXPECT_EQ(blind_run(Effect::humidify, {{}, {}, seconds(2), 0}, 0.04), seconds(2));
  EXPECT_EQ(blind_run(Effect::humidify, {{}, {}, {}, 6}, 0.04), seconds(24));  // 4 % of 10 min
}

TEST(BlindRun, IsNoneWhereThereIsTooLittleToRepeat) {
  EXPECT_FALSE(blind_run(Effect::humidify, {}, 0.0));
  EXPECT_FALSE(blind_run(Effect::cool, {minutes(3), {}, {}, 0}, 0.008)) << "3 min in 6.25 h";
  EXPECT_TRUE(blind_run(Effect::cool, {minutes(3), {}, {}, 0}, 0.009)) << "3 min in 5.6 h";
}

TEST(AskBlind, NeverRunsForMoreThanTheShareOfTheTimePassed) {
  const Instant begin{hours(5)};
  const BlindSpell spell{begin, begin, 0.04, 0.08, minutes(7)};
  const Duration run = seconds(6);
  const auto at = [&](Duration passed, Duration ran) {
    return ask_blind(spell, run, minutes(7) + ran, begin + passed);
  };
  EXPECT_FALSE(at(seconds(150), Duration{0}).run);  // 6 s are 4 % of 150 s
  EXPECT_TRUE(at(seconds(151), Duration{0}).run);
  EXPECT_EQ(at(Duration{0}, Duration{0}).next, begin + seconds(150) + Duration{1});
  EXPECT_FALSE(at(seconds(200), seconds(6)).run);
  EXPECT_TRUE(at(seconds(301), seconds(6)).run);
  EXPECT_FALSE(at(seconds(301), seconds(20)).run) << "the floor ran it meanwhile";
}

TEST(BlindShare, IsHalfWithWaterAndCapped) {
  EXPECT_DOUBLE_EQ(blind_share(Effect::humidify, 0.08), 0.04);
  EXPECT_DOUBLE_EQ(blind_share(Effect::dehumidify, 0.08), 0.04);
  EXPECT_DOUBLE_EQ(blind_share(Effect::heat, 0.08), 0.08);
  EXPECT_DOUBLE_EQ(blind_share(Effect::heat, 0.9), 0.3);
  EXPECT_DOUBLE_EQ(blind_share(Effect::humidify, 0.9), 0.3);
}

}  // namespace
}  // namespace tubwarden
