// A steady drift against a sawtooth, a turn and noise. Values by hand.
#include "core/climate/drift_watch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>

namespace tubwarden {
namespace {

constexpr Duration kWindow = minutes(60);

struct Read {
  DriftWatch watch{kWindow};
  Instant now{hours(9)};
  double minute = 0.0;

  void pass(int minutes_long, const std::function<double(double)>& value) {
    for (int i = 0; i < minutes_long; ++i) {
      watch.reading(value(minute), now);
      now += minutes(1);
      minute += 1.0;
    }
  }
};

TEST(DriftWatch, SaysWhenASteadyFallReachesItsEdge) {
  Read read;
  read.pass(70, [](double m) { return 25.0 - m / 150.0; });  // 0.4 K an hour
  ASSERT_TRUE(read.watch.drift(0.1));
  EXPECT_NEAR(*read.watch.drift(0.1) * 3600.0, -0.4, 1e-6);
  const auto at = read.watch.reaches(24.0, 0.1);
  ASSERT_TRUE(at);
  EXPECT_NEAR(seconds_of(*at - Instant(hours(9))), 150.0 * 60.0, 60.0);
  EXPECT_FALSE(read.watch.reaches(25.5, 0.1)) << "it goes away from it";
  EXPECT_FALSE(read.watch.reaches(24.9, 0.1)) << "it is beyond it";
  EXPECT_FALSE(read.watch.reaches(22.0, 0.1)) << "too far ahead to tell";
  EXPECT_FALSE(read.watch.drift(0.5)) << "less than what counts";
}

TEST(DriftWatch, SaysTheSameOfARise) {
  Read read;
  read.pass(70, [](double m) { return 600.0 + 2.0 * m; });
  const auto at = read.watch.reaches(800.0, 20.0);
  ASSERT_TRUE(at);
  EXPECT_NEAR(seconds_of(*at - Instant(hours(9))), 6000.0, 60.0);
}

TEST(DriftWatch, IsQuietInASawtoothShorterThanItsWindow) {
  for (const double period : {5.0, 17.0, 40.0, 50.0}) {
    Read read;
    for (int i = 0; i < 300; ++i) {
      read.pass(1, [&](double m) { return 87.0 - 2.0 * std::fmod(m, period) / period; });
      EXPECT_FALSE(read.watch.drift(0.5)) << period << " at minute " << i;
    }
  }
}

TEST(DriftWatch, IsQuietOnceItTurns) {
  Read read;
  read.pass(65, [](double m) { return 25.0 - m / 150.0; });
  ASSERT_TRUE(read.watch.drift(0.1));
  const double turned = 25.0 - 65.0 / 150.0;
  read.pass(20, [&](double m) { return turned - (m - 65.0) / 600.0; });  // a quarter as fast
  EXPECT_FALSE(read.watch.drift(0.1));
}

TEST(DriftWatch, WantsAWholeWindowWithoutAGap) {
  Read read;
  const auto falls = [](double m) { return 25.0 - m / 150.0; };
  read.pass(55, falls);
  EXPECT_FALSE(read.watch.drift(0.1));
  read.pass(10, falls);
  EXPECT_TRUE(read.watch.drift(0.1));
  read.now += minutes(16);  // more than two slots
  read.minute += 16.0;
  read.pass(55, falls);
  EXPECT_FALSE(read.watch.drift(0.1));
}

TEST(DriftWatch, TakesNoNonsense) {
  Read read;
  EXPECT_FALSE(read.watch.drift(0.0));
  EXPECT_FALSE(read.watch.reaches(1.0, 0.0));
  const auto falls = [](double m) { return 25.0 - m / 150.0; };
  read.pass(65, falls);
  EXPECT_FALSE(read.watch.reading(std::numeric_limits<double>::quiet_NaN(), read.now));
  EXPECT_FALSE(read.watch.reading(std::numeric_limits<double>::infinity(), read.now));
  EXPECT_TRUE(read.watch.drift(0.1));
  read.watch.reading(24.0, read.now - hours(3));
  EXPECT_FALSE(read.watch.drift(0.1)) << "a time that goes back begins anew";
  read.pass(70, [](double) { return 25.0; });
  EXPECT_FALSE(read.watch.drift(0.0)) << "what stands still drifts nowhere";
}

}  // namespace
}  // namespace tubwarden
