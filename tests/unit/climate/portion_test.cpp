// Portions: how long a run is to be.
#include "core/climate/portion.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace tubwarden {
namespace {

constexpr KeptBand kKept{{85.0, 90.0}, true, true};
constexpr RunLimits kLimits{milliseconds(500), seconds(20), seconds(5), 60};

MistAsk still_at(double value) { return {value, value, value, value, value, 2.0, 2.0, false}; }

TEST(Portion, PriorIsTheDesignsAnchor) {
  // 100 g/h move 60 L at 17 C by 3.2 % a second (the design's own sum: 0.87 g saturate it).
  EXPECT_NEAR(mist_prior(100.0, Litres{60.0}, Celsius{17.0}), 3.2, 0.02);
  EXPECT_NEAR(mist_prior(40.0, Litres{40.0}, Celsius{17.0}), 1.92, 0.02);
}

TEST(Portion, CarriesTheAirToTheMiddle) {
  const auto portion = mist_portion(still_at(85.5), kKept, kLimits);
  ASSERT_TRUE(portion);
  EXPECT_NEAR(seconds_of(portion->run), 1.0, 1e-6) << "2 % lacking, 2 % a second";
  EXPECT_NEAR(portion->aim, 87.5, 1e-6);
}

TEST(Portion, StartsOnlyBelowItsStartPoint) {
  EXPECT_TRUE(mist_portion(still_at(86.2), kKept, kLimits));
  EXPECT_FALSE(mist_portion(still_at(86.3), kKept, kLimits));
  MistAsk fed = still_at(87.4);
  fed.fed_forward = true;
  fed.settled = fed.lowest = fed.next = 83.0;
  EXPECT_TRUE(mist_portion(fed, kKept, kLimits)) << "against the fan: anywhere below the middle";
  fed.now = 87.5;
  EXPECT_FALSE(mist_portion(fed, kKept, kLimits));
}

TEST(Portion, AFallingAirIsMetWhereItWillBe) {
  MistAsk ask = still_at(86.0);
  ask.settled = 85.0;
  ask.lowest = ask.next = 83.0;
  ask.highest = 85.0;
  const auto portion = mist_portion(ask, kKept, kLimits);
  ASSERT_TRUE(portion);
  EXPECT_NEAR(seconds_of(portion->run), 1.75, 1e-6) << "the saw of 83..85 to 86.5..88.5";
}

TEST(Portion, NeverAimsPastTheUpperEdge) {
  MistAsk ask = still_at(86.0);
  ask.lowest = ask.next = 70.0;
  const auto portion = mist_portion(ask, kKept, kLimits);
  ASSERT_TRUE(portion);
  EXPECT_LE(portion->aim, 90.0 - 5.0 / 8.0 + 1e-9);
}

TEST(Portion, TheShortestRunYieldsToTheUpperEdge) {
  MistAsk ask = still_at(86.2);
  ask.gain = ask.gain_next = 9.0;  // half a second: 4.5 %
  EXPECT_FALSE(mist_portion(ask, kKept, kLimits));
  ask.gain = ask.gain_next = 3.0;
  const auto portion = mist_portion(ask, kKept, kLimits);
  ASSERT_TRUE(portion);
  EXPECT_EQ(portion->run, milliseconds(500));
}

TEST(Portion, TheLongestRunHasTheLastWord) {
  const auto portion = mist_portion(still_at(60.0), kKept, kLimits);
  ASSERT_TRUE(portion);
  EXPECT_EQ(portion->run, seconds(5));
}

TEST(Portion, WhatComesBackByItselfNeedsNoMist) {
  MistAsk ask = still_at(86.0);
  ask.next = ask.highest = 88.0;
  EXPECT_FALSE(mist_portion(ask, kKept, kLimits));
  ask.now = ask.settled = ask.lowest = 85.2;
  EXPECT_TRUE(mist_portion(ask, kKept, kLimits)) << "about to leave the band";
}

TEST(Portion, StartsAreSavedUpAsTheyRunOut) {
  EXPECT_EQ(pace(kLimits, 30), Duration{0});
  EXPECT_EQ(pace(kLimits, 45), seconds(30));
  EXPECT_EQ(pace(kLimits, 60), seconds(60));
  EXPECT_EQ(pace({seconds(1), seconds(1), Duration{0}, 0}, 500), Duration{0}) << "no limit";
}

TEST(Portion, ExchangeTakesItsTime) {
  // 1000 to 710 ppm over 420 with one change in 72 s: ln(580 / 290) changes.
  const auto time = exchange_time(1000.0, 710.0, 420.0, 1.0 / 72.0, 0.0);
  ASSERT_TRUE(time);
  EXPECT_NEAR(seconds_of(*time), 72.0 * std::log(2.0), 1e-6);
  EXPECT_FALSE(exchange_time(1000.0, 400.0, 420.0, 1.0 / 72.0, 0.0)) << "below the room";
  EXPECT_FALSE(exchange_time(1000.0, 710.0, 420.0, 1.0 / 72.0, 4.1)) << "the source is stronger";
  EXPECT_EQ(exchange_time(700.0, 710.0, 420.0, 1.0 / 72.0, 0.0), Duration{0});
}

}  // namespace
}  // namespace tubwarden
