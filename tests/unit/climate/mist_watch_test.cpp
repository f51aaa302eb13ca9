// A portion that moved nothing is no evidence of a smaller gain.
#include "core/climate/mist_watch.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

using Verdict = MistWatch::Verdict;

struct Bench {
  MistWatch watch;
  Instant now{hours(1000)};
  double step = 0.6;
  Verdict portion(double lifts, double expected = 3.0, double drift = 0.0,
                  const AirForecast::Learned& known = {}) {
    watch.begin(expected, 86.0, drift, known, seconds(2), now);
    Verdict last = Verdict::none;
    for (int i = 0; i < 5; ++i) {
      now += seconds(5);
      last = watch.reading(86.0 + lifts + drift * 5.0 * (i + 1), step, seconds(20), now);
    }
    now += minutes(1);
    return last;
  }
};

TEST(MistWatch, JudgesOncePerPortion) {
  Bench b;
  EXPECT_EQ(b.watch.reading(90.0, 0.6, seconds(20), b.now), Verdict::none);
  EXPECT_EQ(b.portion(3.0), Verdict::moved);
  EXPECT_EQ(b.watch.reading(90.0, 0.6, seconds(20), b.now), Verdict::none);
}

TEST(MistWatch, TwoPortionsOfNothingAreASuspicion) {
  Bench b;
  EXPECT_EQ(b.portion(0.0), Verdict::nothing);
  EXPECT_FALSE(b.watch.suspected());
  EXPECT_EQ(b.portion(0.1), Verdict::nothing);
  EXPECT_TRUE(b.watch.suspected());
  EXPECT_EQ(b.portion(2.0), Verdict::moved);
  EXPECT_FALSE(b.watch.suspected());
}

TEST(MistWatch, KeepsWhatWasKnownBeforeTheFirst) {
  Bench b;
  b.portion(0.0, 3.0, 0.0, {0.9, 0.1, 7.0, 0.1});
  b.portion(0.0, 3.0, 0.0, {0.3, 0.1, 7.0, 0.1});
  ASSERT_TRUE(b.watch.known_before());
  EXPECT_EQ(b.watch.known_before()->share, 0.9);
  b.portion(3.0);
  EXPECT_FALSE(b.watch.known_before());
}

TEST(MistWatch, AnAirThatRisesByItselfIsNoProof) {
  Bench b;
  EXPECT_EQ(b.portion(0.0, 3.0, 0.1), Verdict::nothing);
}

TEST(MistWatch, AFallingAirIsNotTakenForNothing) {
  Bench b;
  EXPECT_EQ(b.portion(1.5, 3.0, -0.05), Verdict::moved);
}

TEST(MistWatch, AWeakMisterIsNotAnEmptyTank) {
  Bench b;
  EXPECT_EQ(b.portion(0.7), Verdict::little);
  EXPECT_EQ(b.portion(0.7), Verdict::little);
  EXPECT_FALSE(b.watch.suspected());
}

TEST(MistWatch, WhatCannotBeToldFromNoiseIsNotJudged) {
  Bench b;
  EXPECT_EQ(b.portion(0.0, 1.0), Verdict::none);
  b.watch.begin(3.0, 86.0, 0.0, {}, seconds(2), b.now);
  b.watch.disturbed();
  EXPECT_EQ(b.watch.reading(86.0, 0.6, seconds(20), b.now + minutes(1)), Verdict::none);
}

TEST(MistWatch, CountsWhatWasNotProved) {
  Bench b;
  for (int i = 0; i < 3; ++i) {
    b.watch.begin(3.0, 86.0, 0.0, {}, seconds(2), b.now);
    b.watch.disturbed();
  }
  EXPECT_EQ(b.watch.unproved(), 3);
  EXPECT_EQ(b.portion(3.0), Verdict::moved);
  EXPECT_EQ(b.watch.unproved(), 0);
}

TEST(MistWatch, WhatIsTriedCanBeTold) {
  const Bench b;
  EXPECT_GE(seconds_of(b.watch.longest_tried(0.5, 0.6)) * 0.5, 3.0 * 0.6);
}

}  // namespace
}  // namespace tubwarden
