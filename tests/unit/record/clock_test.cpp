// A board without a clock of its own: what was noted before the clock was set is mended by the boot
// clock when it is told.
#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

/// Before the clock was set: the wall clock says 1970.
Stamp unset(std::int64_t minute, const std::string& boot = "boot-a") {
  return {WallTime(minutes(minute)), false, boot, Instant(minutes(minute))};
}

Act note(const std::string& text) { return {"note", "tub-1", "tub-1", "B-01", text}; }

struct ClockTest : RecordTest {
  TimelineRow last() { return timeline().back(); }
  std::string clocks() { return sqlite("select count(*) from boot_clock").out; }
};

TEST_F(ClockTest, AnEntryMadeBeforeIsMendedOnceTheClockIsSet) {
  append({{unset(7), "maria", note("early")}});
  EXPECT_FALSE(last().stamp.wall_set);
  EXPECT_FALSE(last().mended);
  record->clock_set(at(10));
  EXPECT_EQ(last().stamp.wall, at(7).wall);
  EXPECT_TRUE(last().stamp.wall_set);
  EXPECT_TRUE(last().mended);
  EXPECT_EQ(last().stamp.boot, at(7).boot);
  append({{at(11), "maria", note("later")}});
  EXPECT_FALSE(last().mended);
  EXPECT_EQ(sqlite("select wall_ms, wall_set from entry where id=1").out, "420000|0\n")
      << "the entry itself is as it was written";
}

TEST_F(ClockTest, AnEntryOfABootWhoseClockWasNeverSetStaysMarked) {
  append({{unset(7, "boot-0"), "maria", note("early")}});
  record->clock_set(at(10));
  EXPECT_FALSE(last().stamp.wall_set);
  EXPECT_FALSE(last().mended);
}

TEST_F(ClockTest, TheNewestSettingCountsAndAnEntryWithASetClockKeepsItsTime) {
  append({{unset(1), "maria", note("early")}, {at(2), "maria", note("set")}});
  Stamp wrong = at(3);
  wrong.wall += hours(5);
  record->clock_set(wrong);
  EXPECT_EQ(timeline()[0].stamp.wall, at(1).wall + hours(5));
  record->clock_set(at(4));
  EXPECT_EQ(timeline()[0].stamp.wall, at(1).wall);
  EXPECT_EQ(timeline()[1].stamp.wall, at(2).wall);
  record->close();
  EXPECT_EQ(clocks(), "2\n");
}

TEST_F(ClockTest, TheSameSettingToldAgainIsOneRow) {
  Stamp again = at(10);
  again.wall += milliseconds(900);
  record->clock_set(at(3));
  record->clock_set(again);
  again.wall += milliseconds(200);
  record->clock_set(again);
  record->close();
  EXPECT_EQ(clocks(), "2\n") << "900 ms is no other setting, 1100 ms is";
}

TEST_F(ClockTest, WhatAStartGoesOnWithIsMended) {
  append({{unset(0), "maria", BatchOpened{"B-01", "button", "text"}},
          {unset(1), "maria", Placed{"tub-1", "tub-1", "B-01"}},
          {unset(2), "maria", change("", "colonization", PhaseCause::opened)}});
  append({{unset(5), "maria",
           HandTaken{"tub-1", "tub-1", "B-01", HandKind::attend, "", kRest, minutes(9), "in"}}});
  record->checkpoint("tub-1", tub().transition, minutes(4), unset(6));
  EXPECT_FALSE(tub().since.wall_set);
  record->clock_set(at(10));
  reopen("boot-b");
  EXPECT_EQ(tub().since.wall, at(2).wall);
  EXPECT_TRUE(tub().since.wall_set);
  EXPECT_EQ(tub().since.boot_id, "boot-a");
  EXPECT_EQ(tub().checkpoint.wall, at(6).wall);
  EXPECT_TRUE(tub().checkpoint.wall_set);
  EXPECT_EQ(record->open_hands()->at(0).stamp.wall, at(5).wall);
  const auto placed = ask<std::vector<PlacementRow>>(
      [&](auto done) { record->placements("B-01", std::move(done)); });
  EXPECT_EQ(placed.at(0).from.wall, at(1).wall);
  const auto batches =
      ask<std::vector<TimelineRow>>([&](auto done) { record->batches(std::move(done)); });
  EXPECT_EQ(batches.at(0).stamp.wall, at(0).wall);
  EXPECT_TRUE(batches.at(0).mended);
}

}  // namespace
