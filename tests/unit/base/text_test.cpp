// Words for people: RFC 3339, durations, near misses, numbers.
#include <gtest/gtest.h>

#include <array>

#include "base/text.hpp"

namespace tubwarden {
namespace {

WallTime at_ms(std::int64_t ms) { return WallTime(milliseconds(ms)); }

TEST(Rfc3339, WritesUtcWithMilliseconds) {
  EXPECT_EQ(rfc3339(at_ms(0)), "1970-01-01T00:00:00.000Z");
  // 1000000000 s after the epoch: 2001-09-09 01:46:40 UTC, common knowledge.
  EXPECT_EQ(rfc3339(at_ms(1'000'000'000'123)), "2001-09-09T01:46:40.123Z");
  EXPECT_EQ(rfc3339(at_ms(-1)), "1969-12-31T23:59:59.999Z");
}

TEST(Rfc3339, ReadsTheExamplesOfTheStandard) {
  // RFC 3339 section 5.8.
  EXPECT_EQ(parse_rfc3339("1985-04-12T23:20:50.52Z"), at_ms(482196050520));
  EXPECT_EQ(parse_rfc3339("1996-12-19T16:39:57-08:00"), parse_rfc3339("1996-12-20T00:39:57Z"));
  EXPECT_EQ(parse_rfc3339("1937-01-01T12:00:27.87+00:20"),
            parse_rfc3339("1937-01-01T11:40:27.87Z"));
  // A leap second counts as the second after it.
  EXPECT_EQ(parse_rfc3339("1990-12-31T23:59:60Z"), parse_rfc3339("1991-01-01T00:00:00Z"));
}

TEST(Rfc3339, DropsWhatIsBelowAMillisecondAndTakesLowerCase) {
  EXPECT_EQ(parse_rfc3339("2026-02-03t04:05:06.7899999z"),
            parse_rfc3339("2026-02-03T04:05:06.789Z"));
  EXPECT_EQ(parse_rfc3339("2026-02-03 04:05:06Z"), parse_rfc3339("2026-02-03T04:05:06Z"));
}

TEST(Rfc3339, ReadsWhatItWrote) {
  for (std::int64_t ms : {0LL, 1LL, 951782400000LL, 1709164800000LL, 4102444799999LL}) {
    EXPECT_EQ(parse_rfc3339(rfc3339(at_ms(ms))), at_ms(ms));
  }
}

TEST(Rfc3339, RefusesWhatIsNone) {
  for (const char* text :
       {"", "2026", "2026-02-30T00:00:00Z", "2026-13-01T00:00:00Z", "2026-00-01T00:00:00Z",
        "2026-01-01T24:00:00Z", "2026-01-01T00:60:00Z", "2026-01-01T00:00:61Z",
        "2026-01-01T00:00:00", "2026-01-01T00:00:00+25:00", "2026-01-01T00:00:00Zx",
        "2026-1-1T00:00:00Z", "2026-01-01T00:00:00+0100", "20260101T000000Z",
        " 2026-01-01T00:00:00Z", "2025-02-29T00:00:00Z"}) {
    EXPECT_FALSE(parse_rfc3339(text)) << text;
  }
  EXPECT_TRUE(parse_rfc3339("2024-02-29T00:00:00Z"));
}

TEST(Spoken, SaysTwoUnitsAtMost) {
  EXPECT_EQ(spoken(milliseconds(0)), "0ms");
  EXPECT_EQ(spoken(milliseconds(500)), "500ms");
  EXPECT_EQ(spoken(seconds(59)), "59s");
  EXPECT_EQ(spoken(minutes(90)), "1h 30m");
  EXPECT_EQ(spoken(days(14) + hours(6) + minutes(5)), "14d 6h");
  EXPECT_EQ(spoken(days(14)), "14d");
  EXPECT_EQ(spoken(hours(1) + seconds(5)), "1h");
  EXPECT_EQ(spoken(-minutes(2)), "-2m");
}

TEST(Nearest, FindsOneTypingErrorAwayAndMoreInALongWord) {
  constexpr std::array<std::string_view, 4> known = {"humidity", "temperature", "co2", "topic"};
  EXPECT_EQ(nearest("humidty", known), "humidity");
  EXPECT_EQ(nearest("HUMIDITY", known), "humidity");
  EXPECT_EQ(nearest("tempreture", known), "temperature");
  EXPECT_EQ(nearest("co", known), "co2");
  EXPECT_EQ(nearest("topics", known), "topic");
}

TEST(Nearest, SaysNothingOfAWordThatIsFarFromAll) {
  constexpr std::array<std::string_view, 2> known = {"humidity", "co2"};
  EXPECT_FALSE(nearest("pressure", known));
  EXPECT_FALSE(nearest("abc", known));  // three letters allow one error, not two
  EXPECT_FALSE(nearest("humid", known));
  EXPECT_FALSE(nearest("anything", {}));
}

TEST(Nearest, TakesTheFirstOfTwoThatAreAsNear) {
  constexpr std::array<std::string_view, 2> known = {"heat", "hear"};
  EXPECT_EQ(nearest("heax", known), "heat");
}

TEST(Trimmed, LeavesNoZeroBehind) {
  EXPECT_EQ(trimmed(87.5), "87.5");
  EXPECT_EQ(trimmed(88.0), "88");
  EXPECT_EQ(trimmed(0.25), "0.25");
  EXPECT_EQ(trimmed(0.256, 1), "0.3");
  EXPECT_EQ(trimmed(1000), "1000");
  EXPECT_EQ(trimmed(100, 0), "100");
  EXPECT_EQ(trimmed(-0.001), "0");
  EXPECT_EQ(trimmed(-2.50), "-2.5");
}

}  // namespace
}  // namespace tubwarden
