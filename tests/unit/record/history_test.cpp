// The history: what was read comes back, as it was or by width, whatever lies packed and whatever
// is still open.
#include <algorithm>
#include <map>
#include <random>

#include "readings_fixture.hpp"
#include "shell/record/clock_offset.hpp"

namespace {

using namespace tubwarden;

constexpr std::int64_t kHour = 3600, kDay = 24 * kHour;

struct HistoryTest : ReadingsTest {
  /// Every reading of fill(0, to, every, wave) in [from, to) of the answer, one for one.
  void expect_wave(std::int64_t from, std::int64_t to, std::int64_t every) {
    const auto got = points(from, to);
    ASSERT_EQ(got.size(), static_cast<std::size_t>((to - from) / every));
    for (std::size_t i = 0; i < got.size(); ++i) {
      const std::int64_t at = from + static_cast<std::int64_t>(i) * every;
      ASSERT_EQ(got[i].at, wall(at));
      ASSERT_NEAR(got[i].mean, wave(at), 1e-9);
      ASSERT_EQ(got[i].low, got[i].high);
      ASSERT_EQ(got[i].count, 1U);
    }
  }
  /// Points by width of fill(0, end, every, wave), worked out from the readings.
  void expect_folded(std::int64_t from, std::int64_t to, std::int64_t width, std::int64_t end,
                     std::int64_t every, double mean_within) {
    struct Sum {
      double low = 1e9, high = -1e9, total = 0.0;
      std::uint32_t count = 0;
    };
    std::map<std::int64_t, Sum> expected;
    for (std::int64_t at = 0; at < end; at += every) {
      if (at < from || at >= to) continue;
      Sum& sum = expected[(at - from) / width];
      sum.low = std::min(sum.low, wave(at));
      sum.high = std::max(sum.high, wave(at));
      sum.total += wave(at);
      ++sum.count;
    }
    const auto got = points(from, to, width);
    ASSERT_EQ(got.size(), expected.size());
    std::size_t i = 0;
    for (const auto& [index, sum] : expected) {
      const HistoryPoint& p = got[i++];
      ASSERT_EQ(p.at, wall(from + index * width));
      ASSERT_NEAR(p.low, sum.low, 1e-9);
      ASSERT_NEAR(p.high, sum.high, 1e-9);
      ASSERT_NEAR(p.mean, sum.total / sum.count, mean_within);
      ASSERT_EQ(p.count, sum.count);
    }
  }
};

TEST_F(HistoryTest, OpenReadingsAreSeenBeforeTheyAreOnDisk) {
  put({row(1, 87.25), row(2, 87.5)});
  const History h = history(0, 10);
  ASSERT_EQ(h.series.size(), 1U);
  EXPECT_EQ(h.series[0].chamber, "tub-1");
  EXPECT_EQ(h.series[0].sensor, "air");
  EXPECT_EQ(h.series[0].quantity, Quantity::humidity);
  ASSERT_EQ(h.series[0].points.size(), 2U);
  EXPECT_EQ(h.series[0].points[0].at, wall(1));
  EXPECT_NEAR(h.series[0].points[0].mean, 87.25, 1e-9);
  EXPECT_EQ(h.unplaced, 0U);
  EXPECT_EQ(h.damaged, 0U);
  EXPECT_FALSE(h.cut);
  EXPECT_EQ(file->commit(), 2U);
}

TEST_F(HistoryTest, WhatWasForgottenAfterAnErrorIsGone) {
  put({row(1, 87.25)});
  file->commit();
  put({row(2, 87.5), row(3, 87.5, true, "new sensor")});
  EXPECT_EQ(file->forget(), 2U);
  EXPECT_EQ(points(0, 10).size(), 1U);
  put({row(4, 87.5, true, "new sensor")});
  EXPECT_EQ(history(0, 10).series.size(), 2U) << "ids of what was rolled back are not used";
}

TEST_F(HistoryTest, EveryReadingComesBackAcrossChunksTailAndStart) {
  fill(0, 10 * kHour, 10, wave);
  EXPECT_EQ(sqlite("select count(*), sum(count) from chunk"), "9|3240");
  EXPECT_EQ(sqlite("select min(count), max(count) from chunk"), "360|360");
  EXPECT_EQ(sqlite("select count(*) from tail"), "360");
  expect_wave(0, 10 * kHour, 10);
  expect_wave(3 * kHour + 40, 7 * kHour + 10, 10);
  expect_wave(9 * kHour + 50, 10 * kHour, 10);
  reopen();
  expect_wave(0, 10 * kHour, 10);
  reopen("boot-b");
  EXPECT_EQ(sqlite("select count(*) from tail"), "0") << "what another boot left is closed";
  expect_wave(0, 10 * kHour, 10);
}

TEST_F(HistoryTest, ByWidthFromReadings) {
  fill(0, 10 * kHour, 10, wave);
  for (const std::int64_t width : {60L, 300L, 3600L}) {
    expect_folded(0, 10 * kHour, width, 10 * kHour, 10, 1e-9);
    expect_folded(1234, 8 * kHour + 17, width, 10 * kHour, 10, 1e-9);
  }
}

TEST_F(HistoryTest, ALongRangeByWidthFromTheMeans) {
  fill(0, 5 * kDay, 30, wave);
  // Each mean was rounded to a hundredth.
  expect_folded(0, 5 * kDay, 300, 5 * kDay, 30, 0.0051);
  expect_folded(0, 5 * kDay, 2 * kHour, 5 * kDay, 30, 0.0051);
  expect_folded(kHour, 4 * kDay + kHour, 2 * kHour, 5 * kDay, 30, 0.0051);
  // The means really answered: without their chunks nothing is missing.
  file->commit();
  sqlite("delete from chunk");
  expect_folded(0, 5 * kDay, 2 * kHour, 5 * kDay, 30, 0.0051);
}

TEST_F(HistoryTest, WhereTheReadingsAreGoneTheMeansStandInstead) {
  fill(0, 4 * kHour, 10, wave);
  sqlite("delete from chunk where first_ms<2*3600*1000");
  const auto got = points(0, 4 * kHour);
  ASSERT_EQ(got.size(), 24U + 720U);
  EXPECT_EQ(got[1].at, wall(300));
  EXPECT_EQ(got[1].count, 30U);
  EXPECT_LT(got[1].low, got[1].high);
  EXPECT_EQ(got[24].at, wall(2 * kHour));
  EXPECT_EQ(got[24].count, 1U);
  expect_folded(0, 4 * kHour, 600, 4 * kHour, 10, 0.0051);
}

TEST_F(HistoryTest, ASlowSensorIsClosedOnceADay) {
  fill(0, 3 * kDay, 600, wave);
  EXPECT_EQ(sqlite("select min(count) >= 135, max(last_ms - first_ms) <= 86400000 from chunk"),
            "1|1");
  EXPECT_GE(std::stoi(sqlite("select count(*) from chunk")), 2);
  expect_wave(0, 3 * kDay, 600);
}

TEST_F(HistoryTest, AFastSensorIsClosedWithinItsFiveMinutes) {
  std::vector<ReadingRow> rows;
  for (std::int64_t i = 0; i < 4000; ++i) {
    rows.push_back(row(0, 50.0 + static_cast<double>(i % 7)));
    rows.back().boot = Instant(milliseconds(i * 50));
    if (i % 500 != 499) continue;
    put(std::move(rows));
    rows.clear();
    sync();
  }
  EXPECT_EQ(sqlite("select max(count) from chunk"), "720");
  EXPECT_LE(std::stoi(sqlite("select count(*) from tail")), 720);
  EXPECT_EQ(points(0, 300).size(), 4000U);
}

TEST_F(HistoryTest, SeriesThatAreNearlyFullAreClosedTogether) {
  std::vector<ReadingRow> rows;
  for (std::int64_t at = 0; at < 2 * kHour; at += 10) {
    rows.push_back(row(at, 1.0, true, "a"));
    if (at >= 600) rows.push_back(row(at, 2.0, true, "b"));
    if (at % 100 == 0) rows.push_back(row(at, 3.0, true, "slow"));
    put(std::move(rows));
    rows.clear();
    sync();
  }
  EXPECT_EQ(sqlite("select s.sensor, c.count from chunk c join series s on s.id=c.series order by "
                   "c.id"),
            "a|360\nb|300");
  EXPECT_EQ(history(0, 2 * kHour).series.size(), 3U);
}

TEST_F(HistoryTest, LateReadingsTakeTheirPlaceAndTheLastOfOneTimeCounts) {
  fill(0, 3 * kHour, 10, wave);
  put({row(1005, 11.0), row(2000, 22.0), row(3 * kHour + 20, 33.0), row(3 * kHour + 20, 34.0),
       row(3 * kHour + 10, 35.0)});
  const auto check = [&] {
    const auto got = points(0, 4 * kHour);
    ASSERT_EQ(got.size(), 1080U + 3U);
    EXPECT_TRUE(std::is_sorted(got.begin(), got.end(),
                               [](const auto& a, const auto& b) { return a.at < b.at; }));
    EXPECT_NEAR(got[101].mean, 11.0, 1e-9);
    EXPECT_NEAR(got[201].mean, 22.0, 1e-9) << "told anew";
    EXPECT_NEAR(got[1081].mean, 35.0, 1e-9);
    EXPECT_NEAR(got[1082].mean, 34.0, 1e-9);
  };
  check();
  file->commit();
  reopen("boot-b");
  check();
}

TEST_F(HistoryTest, AnyMixOfTimesComesBackAsTheLastTold) {
  std::mt19937 dice(20261125);
  for (int round = 0; round < 5; ++round) {
    reopen("boot-" + std::to_string(round));
    const std::int64_t base = round * 4 * kDay;
    clock_set(stamp(0, kOffsetS + base));
    std::map<std::int64_t, double> told;
    for (int group = 0; group < 20; ++group) {
      std::vector<ReadingRow> rows;
      for (int i = 0; i < 150; ++i) {
        const std::int64_t at = group * 4000 + static_cast<std::int64_t>(dice() % 9000);
        const double value = static_cast<double>(dice() % 10000) / 100.0;
        rows.push_back(row(at, value));
        told[at] = value;
      }
      put(std::move(rows));
      sync();
    }
    const auto got = points(base, base + 4 * kDay);
    ASSERT_EQ(got.size(), told.size());
    std::size_t i = 0;
    for (const auto& [at, value] : told) {
      ASSERT_EQ(got[i].at, wall(base + at));
      ASSERT_NEAR(got[i++].mean, value, 1e-9);
    }
  }
}

TEST_F(HistoryTest, OneQuantityOneAirAndEmptyRanges) {
  put({row(1, 87.0), row(1, 21.5, true, "air", Quantity::air_temperature)});
  RecordGroup other;
  other.readings = {row(1, 50.0)};
  other.readings[0].chamber = "tub-2";
  file->take(other);
  EXPECT_EQ(history(0, 10).series.size(), 2U);
  const History one =
      file->history({"tub-1", Quantity::air_temperature, wall(0), wall(10), seconds(0)});
  ASSERT_EQ(one.series.size(), 1U);
  EXPECT_NEAR(one.series[0].points[0].mean, 21.5, 1e-9);
  EXPECT_TRUE(file->history({"tub-9", {}, wall(0), wall(10), seconds(0)}).series.empty());
  EXPECT_TRUE(history(10, 0).series.empty());
  EXPECT_TRUE(history(2, 9).series.empty());
  EXPECT_TRUE(history(0, 1).series.empty()) << "half open";
  const History all = file->history({"tub-1", {}, WallTime::min(), WallTime::max(), hours(2)});
  EXPECT_EQ(all.series.size(), 2U);
}

TEST_F(HistoryTest, MorePointsThanTheLimitAreCutAndTold) {
  std::vector<ReadingRow> rows;
  for (std::size_t i = 0; i <= kHistoryPointsMax; ++i) {
    rows.push_back(row(static_cast<std::int64_t>(i), 1.0));
  }
  put(std::move(rows));
  const auto end = static_cast<std::int64_t>(kHistoryPointsMax) + 1;
  const History h = history(0, end);
  EXPECT_TRUE(h.cut);
  EXPECT_EQ(h.series[0].points.size(), kHistoryPointsMax);
  EXPECT_FALSE(history(1, end).cut);
  EXPECT_FALSE(history(0, end, 60).cut);
  EXPECT_TRUE(history(0, end, 1).cut);
}

TEST_F(HistoryTest, RunsThatTouchTheRange) {
  RecordGroup group;
  const auto run = [&](const std::string& actuator, std::int64_t began, std::int64_t lasted) {
    group.runs.push_back({"tub-1", actuator, 700, stamp(began), seconds(lasted)});
  };
  run("fan", 100, 50);
  run("mister", 120, 2);
  run("fan", 300, 0);
  run("fan", 400, 10);
  file->take(group);
  const auto of = [&](std::int64_t from, std::int64_t to) {
    std::string told;
    for (const RunRow& r : history(from, to).runs) {
      told += r.actuator + std::to_string(r.began.boot.time_since_epoch() / seconds(1)) + " ";
    }
    return told;
  };
  EXPECT_EQ(of(0, 1000), "fan100 mister120 fan300 fan400 ");
  EXPECT_EQ(of(130, 300), "fan100 ") << "it was running when the range began";
  EXPECT_EQ(of(150, 300), "");
  EXPECT_EQ(of(300, 400), "fan300 ");
  const RunRow r = history(0, 110).runs.at(0);
  EXPECT_EQ(r.level, 700U);
  EXPECT_EQ(r.lasted, seconds(50));
  EXPECT_EQ(r.began.wall, wall(100));
  EXPECT_EQ(r.chamber, "tub-1");
}

}  // namespace
