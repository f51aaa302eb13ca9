#include "programs/cli/page.hpp"

#include <gmock/gmock.h>

#include "samples.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using cli_test::look_of;
using ::testing::ElementsAre;

TEST(Page, ColumnsAreWhatTheEyeCounts) {
  EXPECT_EQ(columns("humidity"), 8u);
  EXPECT_EQ(columns("├──●──┤"), 7u);
  EXPECT_EQ(columns(inked("19 C", Ink::alarm, look_of(80, true))), 4u);
}

TEST(Page, FillingCountsColumnsAndNotBytes) {
  EXPECT_EQ(padded("21 µ", 6), "21 µ  ");
  EXPECT_EQ(right("21 µ", 6), "  21 µ");
  EXPECT_EQ(padded("humidity", 3), "humidity");
}

TEST(Page, CuttingKeepsTheInkClosed) {
  EXPECT_EQ(cut("humidity", 8), "humidity");
  EXPECT_EQ(cut("humidity", 4), "hum~");
  EXPECT_EQ(cut("●●●●", 3), "●●~");
  EXPECT_EQ(cut(inked("humidity", Ink::strong, look_of(80, true)), 4), "\x1b[1mhum\x1b[0m~");
}

TEST(Page, LinesBreakAtSpaces) {
  EXPECT_THAT(wrapped("it starts below 86.25 % and stops", 12),
              ElementsAre("it starts", "below 86.25", "% and stops"));
  EXPECT_THAT(wrapped("a topic/longer/than/the/line b", 10),
              ElementsAre("a", "topic/longer/than/the/line", "b"));
  EXPECT_THAT(wrapped("", 10), ElementsAre(""));
  EXPECT_THAT(wrapped("say: " + unbroken("tubwarden phase tub-1 casing"), 30),
              ElementsAre("say:", "tubwarden phase tub-1 casing"));
}

TEST(Page, OnANarrowPageTextStandsBelowItsHead) {
  EXPECT_EQ(beside("16:24:56  mister  ", "one two three four five six", Ink::plain, look_of(30)),
            "16:24:56  mister  \n  one two three four five six\n");
  EXPECT_EQ(beside("16:24:56  mister  ", "one two three four", Ink::plain, look_of(38)),
            "16:24:56  mister  one two three four\n");
}

TEST(Page, TextStandsBesideItsHead) {
  EXPECT_EQ(beside("mat  ", "one two three four five six seven", Ink::plain, look_of(25)),
            "mat  one two three four\n     five six seven\n");
}

/// A payload or a note must not move the reader's cursor, retitle his window or ring his bell.
TEST(Page, WhatATerminalWouldObeyIsTakenOut) {
  EXPECT_EQ(clean("a\x1b[2Jb\nc\td\x07", look_of(80)), "a [2Jb c d ");
  EXPECT_EQ(clean("a\xc2\x9b"
                  "2Jb",
                  look_of(80)),
            "a 2Jb")
      << "U+009B is an escape, too";
  EXPECT_EQ(clean("21 \xc2\xb5g", look_of(80)), "21 µg");
  EXPECT_EQ(clean("21 µg ●", look_of(80, false, false)), "21 ?g ?");
}

TEST(Page, AnAgeTakesOneUnit) {
  EXPECT_EQ(shortly(-0.4), "0s");
  EXPECT_EQ(shortly(59.9), "59s");
  EXPECT_EQ(shortly(60), "1m");
  EXPECT_EQ(shortly(3599), "59m");
  EXPECT_EQ(shortly(86399), "23h");
  EXPECT_EQ(shortly(86400 * 19.5), "19d");
}

TEST(Page, TimeIsTheReaders) {
  Look look = look_of(80);
  EXPECT_EQ(local_time("2026-11-25T12:31:07.512Z", look), "25 Nov 12:31:07");
  look.east_of_utc = [](WallTime) { return Duration(hours(13)); };
  EXPECT_EQ(local_time("2026-12-31T12:31:07Z", look, true), " 1 Jan 2027 01:31:07");
  look.east_of_utc = [](WallTime) { return Duration(minutes(-210)); };
  EXPECT_EQ(local_time("2026-03-01T02:00:00Z", look, true), "28 Feb 2026 22:30:00");
  EXPECT_EQ(local_time("some time", look), "some time");
}

TEST(Page, InkIsForTheLookThatWantsIt) {
  EXPECT_EQ(inked("low", Ink::warn, look_of(80)), "low");
  EXPECT_EQ(inked("low", Ink::warn, look_of(80, true)), "\x1b[33mlow\x1b[0m");
  EXPECT_EQ(inked("low", Ink::plain, look_of(80, true)), "low");
}

}  // namespace
