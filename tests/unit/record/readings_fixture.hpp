// The readings' file alone, on a real file, group by group. Threading: the test's.
// Failure: throws.
#pragma once

#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "parts/parts.hpp"
#include "shell/record/readings_file.hpp"

namespace tubwarden {

struct ReadingsTest : ::testing::Test {
  static constexpr std::int64_t kOffsetS = 1'800'000'000;  ///< the wall clock over the boot clock

  parts::TempFolder folder;
  RecordKeep keep;
  std::string boot_id = "boot-a";
  std::unique_ptr<ReadingsFile> file = open();

  std::string path() const { return (folder.path() / "readings.db").string(); }
  std::unique_ptr<ReadingsFile> open() {
    return std::make_unique<ReadingsFile>(path(), boot_id, keep);
  }
  void reopen(const std::string& boot = "boot-a") {
    file.reset();
    boot_id = boot;
    file = open();
  }

  static WallTime wall(std::int64_t second) { return WallTime(seconds(kOffsetS + second)); }
  static ReadingRow row(std::int64_t second, double value, bool set = true,
                        const std::string& sensor = "air", Quantity q = Quantity::humidity) {
    return {"tub-1",
            sensor,
            q,
            value,
            set ? wall(second) : WallTime(seconds(second)),
            set,
            Instant(seconds(second))};
  }
  Stamp stamp(std::int64_t second, std::int64_t offset_s = kOffsetS) const {
    return {WallTime(seconds(offset_s + second)), true, boot_id, Instant(seconds(second))};
  }
  void clock_set(const Stamp& now) {
    RecordGroup group;
    group.clock = now;
    file->take(group);
  }
  void put(std::vector<ReadingRow> rows) {
    RecordGroup group;
    group.readings = std::move(rows);
    file->take(group);
  }
  void sync() {
    file->commit();
    file->tidy();
  }
  /// A reading each `every` seconds in [from, to), synced each five minutes.
  void fill(std::int64_t from, std::int64_t to, std::int64_t every,
            const std::function<double(std::int64_t)>& value, bool set = true) {
    std::vector<ReadingRow> rows;
    for (std::int64_t at = from; at < to; at += every) {
      rows.push_back(row(at, value(at), set));
      if (at / 300 == (at + every) / 300) continue;
      put(std::move(rows));
      rows.clear();
      sync();
    }
    put(std::move(rows));
    sync();
  }
  History history(std::int64_t from, std::int64_t to, std::int64_t width_s = 0) {
    return file->history({"tub-1", {}, wall(from), wall(to), seconds(width_s)});
  }
  std::vector<HistoryPoint> points(std::int64_t from, std::int64_t to, std::int64_t width_s = 0) {
    const History h = history(from, to, width_s);
    if (h.series.empty()) return {};
    if (h.series.size() != 1) throw std::runtime_error("not one series");
    return h.series[0].points;
  }
  std::string sqlite(const std::string& statement) {
    const parts::Ran ran = parts::run({"sqlite3", path(), statement});
    if (ran.status != 0) throw std::runtime_error(ran.err);
    return ran.out.substr(0, ran.out.find_last_not_of('\n') + 1);
  }
};

/// A day's wave, in hundredths that are exact.
inline double wave(std::int64_t second) {
  return 80.0 + static_cast<double>((second * 37 / 10) % 1700) / 100.0;
}

}  // namespace tubwarden
