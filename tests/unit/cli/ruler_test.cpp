#include "programs/cli/ruler.hpp"

#include <gmock/gmock.h>

#include "programs/cli/page.hpp"

namespace {

using namespace tubwarden::cli;

/// Humidity in fruiting: the scale runs from warn limit to warn limit, 78..95.
Reading humidity(std::optional<double> value) {
  Reading r;
  r.value = value;
  r.keep_low = 85;
  r.keep_high = 90;
  r.warn_low = 78;
  r.warn_high = 95;
  r.least = 0;
  r.most = 100;
  return r;
}

TEST(Ruler, TheMarkStandsWhereTheReadingDoes) {
  // 18 cells over 17 %: one cell a percent.
  EXPECT_EQ(ruler(humidity(87), 18, false), "!......[-O--]....!");
  EXPECT_EQ(ruler(humidity(85), 18, false), "!......O----]....!");
  EXPECT_EQ(ruler(humidity(90), 18, false), "!......[----O....!");
  EXPECT_EQ(ruler(humidity(81), 18, false), "!..O...[----]....!");
  EXPECT_EQ(ruler(humidity(95), 18, false), "!......[----]....O");
  EXPECT_EQ(ruler(humidity(std::nullopt), 18, false), "!......[----]....!");
  EXPECT_EQ(ruler(humidity(87), 18, true), "╎······├─●──┤····╎");
}

TEST(Ruler, WhatIsOffThePaperPointsThere) {
  EXPECT_EQ(ruler(humidity(12), 18, false), "<......[----]....!");
  EXPECT_EQ(ruler(humidity(99.9), 18, false), "!......[----]....>");
}

TEST(Ruler, FarWarnLimitsDoNotShrinkTheBandToADot) {
  Reading r;
  r.value = 24.8;
  r.keep_low = 24;
  r.keep_high = 25.5;
  r.warn_low = -40;
  r.warn_high = 60;
  // At most two and a half band widths on either side: 20.25..29.25.
  EXPECT_EQ(ruler(r, 25, false), "..........[-O-]..........");
}

TEST(Ruler, ABandThatEndsWhereTheQuantityEndsHasNoPaperBehindIt) {
  Reading r = humidity(97);
  r.keep_low = 90;
  r.keep_high = 100;
  r.warn_low = 80;
  r.warn_high = std::nullopt;
  EXPECT_EQ(ruler(r, 21, false), "!.........[------O--]");
}

TEST(Ruler, WarnLimitsAloneAreRuled) {
  Reading r;
  r.value = 17;
  r.warn_low = 12;
  r.warn_high = 22;
  EXPECT_EQ(ruler(r, 21, false), ".....!....O....!.....");
}

TEST(Ruler, WithoutALimitThereIsNothingToRule) {
  Reading r;
  r.value = 17;
  EXPECT_EQ(ruler(r, 5, true), "     ");
  r.warn_high = 20;
  EXPECT_EQ(ruler(r, 5, true), "     ") << "one limit has no scale";
}

TEST(Ruler, TakesTheColumnsItIsGiven) {
  for (int cells = 1; cells < 130; ++cells) {
    for (const double value : {-5.0, 78.0, 86.0, 90.0, 300.0}) {
      EXPECT_EQ(columns(ruler(humidity(value), cells, true)), static_cast<std::size_t>(cells));
    }
  }
}

TEST(Stand, EachSideOfEachEdge) {
  EXPECT_EQ(stand_of(humidity(77.9)), Stand::too_low);
  EXPECT_EQ(stand_of(humidity(78)), Stand::below);
  EXPECT_EQ(stand_of(humidity(84.9)), Stand::below);
  EXPECT_EQ(stand_of(humidity(85)), Stand::inside);
  EXPECT_EQ(stand_of(humidity(90)), Stand::inside);
  EXPECT_EQ(stand_of(humidity(90.1)), Stand::above);
  EXPECT_EQ(stand_of(humidity(95)), Stand::above);
  EXPECT_EQ(stand_of(humidity(95.1)), Stand::too_high);
  EXPECT_EQ(stand_of(humidity(std::nullopt)), Stand::unjudged);
  EXPECT_EQ(stand_of(Reading{}), Stand::unjudged);
}

TEST(Stand, BelowAKeepBelowNothingIsWrong) {
  Reading co2;
  co2.value = 380;
  co2.keep_low = 420;
  co2.keep_high = 1000;
  co2.low_is_fine = true;
  EXPECT_EQ(stand_of(co2), Stand::inside);
  co2.value = 1001;
  EXPECT_EQ(stand_of(co2), Stand::above);
}

}  // namespace
