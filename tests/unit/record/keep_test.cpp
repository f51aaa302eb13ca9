// How long the history is kept, and what a clock that jumps, a damaged part and an old file do to
// it.
#include <algorithm>

#include "readings_fixture.hpp"

namespace {

using namespace tubwarden;

constexpr std::int64_t kHour = 3600, kDay = 24 * kHour;

struct KeepTest : ReadingsTest {
  void keep_only(Duration readings, Duration means, Duration decisions) {
    keep = {readings, means, decisions};
    reopen(boot_id);
  }
  void decide(std::int64_t second) {
    RecordGroup group;
    group.decisions.push_back({"tub-1", "fan", kRun, "stuffy", stamp(second)});
    group.runs.push_back({"tub-1", "fan", kRun, stamp(second), seconds(5)});
    file->take(group);
  }
  std::size_t decisions() { return file->decisions("tub-1", "fan", {}, 1000).size(); }
  std::int64_t count(const std::string& table) {
    return std::stoll(sqlite("select count(*) from " + table));
  }
};

TEST_F(KeepTest, EachPartIsDroppedWhenItsTimeIsOver) {
  keep_only(hours(24), hours(48), hours(12));
  for (std::int64_t at = 0; at < 4 * kDay; at += kHour) {
    decide(at);
    fill(at, at + kHour, 30, wave);
  }
  const std::int64_t now = 4 * kDay;
  const auto got = points(0, now);
  const auto first_raw =
      std::find_if(got.begin(), got.end(), [](const auto& p) { return p.count == 1; });
  ASSERT_NE(first_raw, got.end());
  // A part goes as a whole, and once an hour: 3 h of readings lie in one, and an hour passes.
  EXPECT_LE(first_raw->at, wall(now - kDay));
  EXPECT_GE(first_raw->at, wall(now - kDay - 5 * kHour));
  EXPECT_LE(got.front().at, wall(now - 2 * kDay));
  EXPECT_GE(got.front().at, wall(now - 2 * kDay - 5 * kHour));
  EXPECT_TRUE(std::all_of(first_raw, got.end(), [](const auto& p) { return p.count == 1; }));
  EXPECT_GE(decisions(), 11U);
  EXPECT_LE(decisions(), 14U);
  const auto runs = history(0, now).runs.size();
  EXPECT_GE(runs, 23U);
  EXPECT_LE(runs, 26U) << "as long as the readings";
}

TEST_F(KeepTest, MeansAreNeverKeptShorterThanReadings) {
  keep_only(hours(48), hours(1), hours(12));
  fill(0, 30 * kHour, 30, wave);
  EXPECT_EQ(count("chunk"), count("means"));
  EXPECT_EQ(points(0, 30 * kHour).size(), 3600U);
}

TEST_F(KeepTest, TheFileDoesNotGrowForEver) {
  keep_only(hours(24), hours(36), hours(12));
  const auto a_day = [&](std::int64_t day) {
    for (std::int64_t at = day * kDay; at < (day + 1) * kDay; at += kHour) {
      for (int i = 0; i < 60; ++i) decide(at + i);
      fill(at, at + kHour, 10, wave);
    }
    return std::stoll(sqlite("pragma page_count"));
  };
  std::int64_t day = 0;
  while (day < 3) a_day(day++);
  const auto then = a_day(day++);
  long long now = 0;
  while (day < 12) now = a_day(day++);
  EXPECT_LE(now, then + then / 20) << "pages of what was dropped are used again";
  EXPECT_EQ(sqlite("pragma integrity_check"), "ok");
}

TEST_F(KeepTest, WhatIsLongOverGoesAPartAtATime) {
  clock_set(stamp(0));
  for (int i = 0; i < 1100; ++i) decide(i);
  fill(0, 600, 10, wave);
  keep_only(hours(24), hours(24), hours(24));
  put({row(3 * kDay, 50.0)});
  EXPECT_EQ(count("decision"), 1100);
  sync();
  EXPECT_EQ(count("decision"), 588) << "a transaction is small";
  sync();
  EXPECT_EQ(count("decision"), 76) << "and the next follows soon";
  sync();
  EXPECT_EQ(count("decision"), 0);
}

TEST_F(KeepTest, AClockSetWrongForAWhileCostsNothing) {
  keep_only(days(10), days(10), days(10));
  fill(0, 2 * kDay, 60, wave);
  reopen("boot-b");
  const std::int64_t later = 2 * kDay + kHour;
  // The next boot's clock is ten years ahead, for five hours.
  const std::int64_t wrong = kOffsetS + later + 3650 * kDay;
  clock_set(stamp(0, wrong));
  const auto read = [&](std::int64_t from, std::int64_t to) {
    for (std::int64_t at = from; at < to; at += 60) {
      ReadingRow r = row(at, 50.0);
      r.wall = stamp(at, wrong).wall;
      put({r});
      if (at % 600 == 0) sync();
    }
  };
  read(0, 5 * kHour);
  clock_set(stamp(5 * kHour, kOffsetS + later));
  read(5 * kHour, 10 * kHour);
  EXPECT_EQ(points(0, 2 * kDay).size(), 2880U);
  EXPECT_EQ(points(later, later + 10 * kHour).size(), 600U);
}

TEST_F(KeepTest, WithinABootNoJumpLosesOrReordersAnything) {
  const auto values = [&](std::int64_t from_s, std::int64_t to_s) {
    std::vector<int> all;
    const History h = file->history(
        {"tub-1", {}, WallTime(seconds(from_s)), WallTime(seconds(to_s)), seconds(0)});
    for (const auto& s : h.series) {
      for (const auto& p : s.points) all.push_back(static_cast<int>(p.mean));
    }
    return all;
  };
  const auto count_up = [](std::int64_t at) { return static_cast<double>(at / 10); };
  std::vector<int> expected(1440);
  for (int i = 0; i < 1440; ++i) expected[static_cast<std::size_t>(i)] = i;
  clock_set(stamp(0));
  fill(0, 2 * kHour, 10, count_up);
  const auto go_on = [&](std::int64_t from, std::int64_t to, std::int64_t offset) {
    clock_set(stamp(from, offset));
    std::vector<ReadingRow> rows;
    for (std::int64_t at = from; at < to; at += 10) {
      rows.push_back(row(at, count_up(at)));
      rows.back().wall = stamp(at, offset).wall;
    }
    put(std::move(rows));
    sync();
  };
  go_on(2 * kHour, 3 * kHour, kOffsetS - 5 * kHour);
  EXPECT_EQ(values(0, kOffsetS * 2).size(), 1080U);
  EXPECT_EQ(values(kOffsetS - 5 * kHour, kOffsetS - 4 * kHour).size(), 360U)
      << "the whole boot follows the newest setting";
  go_on(3 * kHour, 4 * kHour, kOffsetS + 7 * kHour);
  EXPECT_EQ(values(0, kOffsetS * 2), expected);
  EXPECT_EQ(values(kOffsetS + 7 * kHour, kOffsetS + 11 * kHour), expected);
  clock_set(stamp(4 * kHour));
  EXPECT_EQ(values(kOffsetS, kOffsetS + 4 * kHour), expected);
}

TEST_F(KeepTest, ReadingsBeforeTheClockWasSetTakeTheirPlaceWhenItIs) {
  fill(0, 2 * kHour, 10, wave, false);
  EXPECT_TRUE(points(-kDay, kDay).empty());
  EXPECT_EQ(history(0, 1).unplaced, 720U);
  EXPECT_EQ(count("chunk"), 1) << "they are kept like all others";
  clock_set(stamp(2 * kHour));
  EXPECT_EQ(points(0, 2 * kHour).size(), 720U);
  EXPECT_EQ(history(0, 1).unplaced, 0U);
}

TEST_F(KeepTest, AReadingWithASetClockSetsItWhereNobodyHas) {
  put({row(1, 50.0, false), row(2, 51.0, true)});
  EXPECT_EQ(points(0, 10).size(), 2U);
}

TEST_F(KeepTest, ThoseOfABootWhoseClockWasNeverSetAreCountedUntilTheirTimeIsOver) {
  keep_only(hours(24), hours(24), hours(24));
  fill(0, kHour, 10, wave, false);
  reopen("boot-b");
  EXPECT_EQ(history(0, 1).unplaced, 360U);
  clock_set(stamp(0));
  fill(0, 24 * kHour, 60, wave);
  EXPECT_EQ(history(0, 1).unplaced, 360U);
  EXPECT_EQ(points(0, 24 * kHour).size(), 1440U);
  reopen("boot-c");
  const std::int64_t next = kOffsetS + 25 * kHour;
  clock_set(stamp(0, next));
  for (std::int64_t at = 0; at < 8 * kHour; at += 300) {
    ReadingRow r = row(at, 50.0);
    r.wall = stamp(at, next).wall;
    put({r});
    sync();
  }
  EXPECT_EQ(history(0, 1).unplaced, 0U) << "a later boot began longer ago than all is kept";
}

TEST_F(KeepTest, ADamagedChunkLosesOnlyItselfAndItsMeansStandInstead) {
  fill(0, 4 * kHour, 10, wave);
  file->commit();
  const std::string flip =
      " set packed=cast(substr(packed,1,40)||x'00ff'||substr(packed,43) as blob) where "
      "first_ms=3600000";
  sqlite("update chunk" + flip);
  const History h = history(0, 4 * kHour);
  EXPECT_EQ(h.damaged, 1U);
  EXPECT_EQ(h.series.at(0).points.size(), 1080U + 12U);
  EXPECT_EQ(points(0, kHour).size(), 360U);
  sqlite("update means set packed=substr(packed,1,10) where first_ms=3600000");
  const History both = history(0, 4 * kHour);
  EXPECT_EQ(both.damaged, 1U + 0U);
  EXPECT_EQ(both.series.at(0).points.size(), 1080U);
}

TEST_F(KeepTest, DamagedMeansAreWorkedOutAnew) {
  fill(0, 5 * kHour, 10, wave);
  file->commit();
  sqlite("update means set packed=x'00' where first_ms=3600000");
  const auto by_hours = [&] {
    return file->history({"tub-1", {}, wall(0), wall(5 * kDay), hours(1)});
  };
  const History h = by_hours();
  EXPECT_EQ(h.damaged, 1U);
  ASSERT_EQ(h.series.at(0).points.size(), 5U);
  EXPECT_EQ(h.series[0].points[1].count, 360U);
  sqlite("update chunk set packed=zeroblob(9) where first_ms=3600000");
  EXPECT_EQ(by_hours().series.at(0).points.size(), 4U);
}

TEST_F(KeepTest, PlainRowsOfTheFirstVersionAreTakenOver) {
  file.reset();
  for (const char* side : {"", "-wal", "-shm"}) std::filesystem::remove(path() + side);
  // As the first version made it.
  sqlite(
      "create table series (id integer primary key, chamber text not null, sensor text not null, "
      "quantity text not null, unit text not null, unique (chamber, sensor, quantity));"
      "create table reading (series integer not null references series(id), wall_ms integer not "
      "null, hundredths integer not null, primary key (series, wall_ms)) without rowid;"
      "insert into series values(7,'tub-1','air','humidity','%'),(9,'tub-1','bed',"
      "'substrate_temperature','C');"
      "with recursive n(i) as (select 0 union all select i+1 from n where i<9999) insert into "
      "reading select 7, 1800000000000+i*10000, 8000+i%500 from n;"
      "insert into reading values(9,1800000001000,2450);"
      "pragma user_version=1");
  boot_id = "boot-b";
  file = open();
  EXPECT_EQ(sqlite("pragma user_version"), "2");
  const History h = history(0, 100'000);
  ASSERT_EQ(h.series.size(), 2U);
  ASSERT_EQ(h.series[0].points.size(), 10'000U);
  for (std::size_t i = 0; i < 10'000; ++i) {
    ASSERT_EQ(h.series[0].points[i].at, wall(static_cast<std::int64_t>(i) * 10));
    ASSERT_NEAR(h.series[0].points[i].mean, 80.0 + static_cast<double>(i % 500) / 100.0, 1e-9);
  }
  EXPECT_NEAR(h.series[1].points.at(0).mean, 24.5, 1e-9);
  EXPECT_EQ(sqlite("select count(*) from sqlite_master where name='reading'"), "0");
}

TEST_F(KeepTest, ANewerFileIsRefused) {
  file.reset();
  sqlite("pragma user_version=99");
  EXPECT_THROW(open(), sql::SqlError);
  EXPECT_EQ(sqlite("pragma user_version"), "99");
}

}  // namespace
