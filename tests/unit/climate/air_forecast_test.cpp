// Where an air truly is behind its sensor, what moves it, and what is learned of that.
#include "core/climate/air_forecast.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace tubwarden {
namespace {

ForecastTraits plain() {
  ForecastTraits t;
  t.dead_s = 0.0;
  t.swing = 0.0;
  return t;
}

/// An air by its own sums, at 0.1 s, so that nothing of the room under test is shared.
struct Air {
  double value = 86.0, shown = 86.0, fog = 0.0;
  double lag_s = 8.0, release_s = 8.0, gives = 1.0;  // gives: of the nominal input
  double drift = 0.0, exchange = 0.0, outside = 50.0;
  void run(double s, double input_per_s) {
    for (int i = 0; i < std::lround(s * 10.0); ++i) {
      const double released = fog * 0.1 / release_s;
      fog += gives * input_per_s * 0.1 - released;
      value += released + 0.1 * (drift - exchange * (value - outside));
      shown += 0.1 * (value - shown) / lag_s;
    }
  }
};

struct Pair {
  Air air;
  AirForecast forecast{plain()};
  Instant now{hours(1000)};
  void pass(int seconds_long, double input_per_s, bool clean = true) {
    for (int i = 0; i < seconds_long; ++i) {
      air.run(1.0, input_per_s);
      now += seconds(1);
      forecast.advance({input_per_s, air.exchange, air.outside}, now);
      if (i % 5 == 4) forecast.reading(air.shown, now, clean);
    }
  }
  /// A portion of two seconds each minute.
  void portions(int count, bool clean = true) {
    for (int i = 0; i < count; ++i) {
      pass(2, 1.5, clean);
      pass(58, 0.0, clean);
    }
  }
};

TEST(AirForecast, KnowsNothingBeforeTheFirstReading) {
  AirForecast forecast(plain());
  EXPECT_FALSE(forecast.known());
  forecast.advance({}, Instant{hours(1)});
  forecast.reading(86.0, Instant{hours(1)}, true);
  EXPECT_TRUE(forecast.known());
  EXPECT_EQ(forecast.value(), 86.0);
}

TEST(AirForecast, SeesThroughTheLag) {
  Pair p;
  p.pass(60, 0.0);
  p.air.exchange = 0.01;  // a fan that nobody hides
  p.pass(20, 0.0);
  EXPECT_GT(p.air.shown - p.air.value, 1.0) << "the sensor is late";
  EXPECT_NEAR(p.forecast.value(), p.air.value, 0.5);
}

TEST(AirForecast, LearnsTheDrift) {
  Pair p;
  p.air.drift = -0.05;
  p.pass(300, 0.0);
  EXPECT_NEAR(p.forecast.drift(), -0.05, 0.01);
  EXPECT_NEAR(p.forecast.ahead(seconds(60), {}, {}), p.air.value - 3.0, 0.7);
}

TEST(AirForecast, LearnsWhatASecondOfMistGives) {
  for (const double gives : {0.6, 1.0, 1.4}) {
    Pair p;
    p.air.gives = gives;
    p.air.drift = -0.05;
    p.portions(60);
    EXPECT_NEAR(p.forecast.input_share(), gives, 0.15 * gives);
  }
}

TEST(AirForecast, LearnsHowLateTheSensorIs) {
  for (const double lag_s : {4.0, 8.0, 16.0}) {
    Pair p;
    p.air.lag_s = lag_s;
    p.air.drift = -0.05;
    p.portions(60);
    EXPECT_NEAR(p.forecast.lag_s(), lag_s, 0.3 * lag_s);
  }
}

TEST(AirForecast, LearnsFromCleanWindowsOnly) {
  Pair p;
  p.air.gives = 0.5;
  p.portions(60, false);
  EXPECT_EQ(p.forecast.input_share(), 1.0);
  EXPECT_EQ(p.forecast.lag_s(), 8.0);
}

TEST(AirForecast, StaysWithinItsBounds) {
  Pair p;
  p.air.gives = 0.0;
  p.portions(500);
  EXPECT_GE(p.forecast.input_share(), 0.2);
  p.forecast.learned({99.0, 0.1, 1e6, 0.1});
  EXPECT_EQ(p.forecast.input_share(), 5.0);
  EXPECT_EQ(p.forecast.lag_s(), 40.0);
  p.forecast.learned({0.0, 0.1, 0.0, 0.1});
  EXPECT_EQ(p.forecast.input_share(), 0.2);
  EXPECT_EQ(p.forecast.lag_s(), 1.6);
}

TEST(AirForecast, LooksAheadOverARunAndWhatFollows) {
  Pair p;
  p.pass(300, 0.0);
  const AirDrive fan{0.0, 0.01, 50.0};
  const double after = 50.0 + 36.0 * std::exp(-0.1);
  EXPECT_NEAR(p.forecast.ahead(seconds(10), fan, seconds(10)), after, 0.2);
  EXPECT_NEAR(p.forecast.ahead(seconds(60), fan, seconds(10)), after, 0.6) << "then it rests";
  EXPECT_LT(p.forecast.ahead(seconds(60), fan, seconds(10), fan), after - 5.0) << "or goes on";
  EXPECT_NEAR(p.forecast.ahead(seconds(60), {0.0, 1e-300, 50.0}, seconds(60)), 86.0, 0.5)
      << "next to no exchange is none";
}

TEST(AirForecast, MistCoolsTheAirForAWhile) {
  ForecastTraits t = plain();
  t.swing = 2.0;
  const AirForecast forecast(t);
  EXPECT_GT(forecast.response(seconds(12)), 1.3);
  EXPECT_NEAR(forecast.response(minutes(5)), 1.0, 0.01);
}

TEST(AirForecast, StaysBelowWhatAnAirCanBe) {
  ForecastTraits t = plain();
  t.value_most = 102.0;
  AirForecast forecast(t);
  Instant now{hours(1000)};
  for (int i = 0; i < 40; ++i) {
    now += seconds(5);
    forecast.advance({}, now);
    forecast.reading(i < 20 ? 80.0 : 100.0, now, true);
    EXPECT_LE(forecast.value(), 102.0);
  }
}

TEST(AirForecast, ALongSilenceIsForgotten) {
  Pair p;
  p.air.drift = 0.05;
  p.pass(300, 0.0);
  p.forecast.advance({}, p.now + minutes(11));
  EXPECT_FALSE(p.forecast.known());
}

}  // namespace
}  // namespace tubwarden
