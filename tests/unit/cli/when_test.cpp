// Moments as a person writes them, by a clock that goes forward and back.
#include "programs/cli/when.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using testing::HasSubstr;

WallTime at(const char* text) { return *parse_rfc3339(text); }

/// Central Europe in 2026: summer time from 29 March to 25 October, at 01:00 UTC (directive
/// 2000/84/EC, articles 2 and 3: the last Sundays of March and October, at 1.00 a.m. GMT).
Duration europe(WallTime t) {
  return t >= at("2026-03-29T01:00:00Z") && t < at("2026-10-25T01:00:00Z") ? hours(2) : hours(1);
}

const WallTime kNow = at("2026-11-25T12:00:00Z");  // 13:00 by the reader's clock

std::string told(const char* text, WallTime now = kNow) {
  const auto when = parse_when(text, now, europe);
  return when.ok() ? rfc3339(when->at) : when.error().text;
}

TEST(When, WhatIsWrittenInManyWays) {
  const std::pair<const char*, const char*> cases[] = {
      {"now", "2026-11-25T12:00:00.000Z"},
      {"10:30", "2026-11-25T09:30:00.000Z"},
      {"10:30:15", "2026-11-25T09:30:15.000Z"},
      {"13:00", "2026-11-25T12:00:00.000Z"},
      {"13:01", "2026-11-24T12:01:00.000Z"},
      {"23:59:59", "2026-11-24T22:59:59.000Z"},
      {"00:00", "2026-11-24T23:00:00.000Z"},
      {"2026-11-20", "2026-11-19T23:00:00.000Z"},
      {"2026-11-20 08:15", "2026-11-20T07:15:00.000Z"},
      {"2026-11-20T08:15:30", "2026-11-20T07:15:30.000Z"},
      {"2026-07-01 08:15", "2026-07-01T06:15:00.000Z"},
      {"2026-11-20T08:15:00Z", "2026-11-20T08:15:00.000Z"},
      {"2026-11-20T08:15:00-05:00", "2026-11-20T13:15:00.000Z"},
      {"2h", "2026-11-25T10:00:00.000Z"},
      {"1d 6h", "2026-11-24T06:00:00.000Z"},
      {"90s", "2026-11-25T11:58:30.000Z"},
  };
  for (const auto& [text, expected] : cases) EXPECT_EQ(told(text), expected) << text;
}

TEST(When, WhatIsNoTimeIsToldWithWhatIs) {
  for (const char* text :
       {"", "noon", "25:00", "12:60", "1:30", "12:30:60", "12:30 ", "2026-02-30",
        "2026-13-01 10:00", "2026-11-20 24:00", "2026-11-20x08:15", "-2h", "20000000d", "10"}) {
    const auto when = parse_when(text, kNow, europe);
    ASSERT_FALSE(when.ok()) << text;
    EXPECT_EQ(when.error().code, ErrorCode::bad_input);
    EXPECT_THAT(when.error().text, HasSubstr("allowed are HH:MM")) << text;
  }
}

TEST(When, AnHourThatCameTwiceIsTheFirstAndSaid) {
  const auto when = parse_when("2026-10-25 02:30", kNow, europe);
  ASSERT_TRUE(when.ok());
  EXPECT_EQ(rfc3339(when->at), "2026-10-25T00:30:00.000Z");
  EXPECT_EQ(when->note,
            "02:30 came twice on 2026-10-25, when the clocks went back; the first is taken, the "
            "second is 2026-10-25T01:30:00.000Z");
  EXPECT_EQ(parse_when("2026-10-25 01:59", kNow, europe)->note, "");
  EXPECT_EQ(told("2026-10-25 01:59"), "2026-10-24T23:59:00.000Z");
  EXPECT_EQ(parse_when("2026-10-25 03:00", kNow, europe)->note, "");
  EXPECT_EQ(told("2026-10-25 03:00"), "2026-10-25T02:00:00.000Z");
}

TEST(When, AnHourThatNeverCameIsRefused) {
  EXPECT_EQ(told("2026-03-29 02:30"),
            "02:30 was skipped on 2026-03-29, when the clocks went forward; name another time");
  EXPECT_EQ(told("2026-03-29 01:59"), "2026-03-29T00:59:00.000Z");
  EXPECT_EQ(told("2026-03-29 03:00"), "2026-03-29T01:00:00.000Z");
}

TEST(When, TheNightOfTheChangeByTimeOfDay) {
  const WallTime morning = at("2026-10-25T05:00:00Z");  // 06:00
  EXPECT_EQ(told("02:30", morning), "2026-10-25T00:30:00.000Z");
  EXPECT_THAT(parse_when("02:30", morning, europe)->note, HasSubstr("came twice"));
  EXPECT_EQ(told("07:00", morning), "2026-10-24T05:00:00.000Z") << "yesterday, in summer time";
}

}  // namespace
