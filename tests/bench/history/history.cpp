// Bytes a sample of the history on disk, and the time of a chart of 60 days; each with plain SQLite
// rows beside it, in the same run. bench_history FOLDER: an empty folder for the files.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <vector>

#include "bench/history/tubs.hpp"
#include "shell/record/readings_file.hpp"

namespace {

using namespace tubwarden;
namespace fs = std::filesystem;

constexpr std::int64_t kGroupMs = 60'000;
constexpr int kAsked = 21;
constexpr auto kWidth = hours(2);

struct Measured {
  double median, least, most;
};

/// The milliseconds of each of kAsked times.
template <class What>
Measured measure(What what) {
  std::vector<double> ms;
  for (int i = 0; i < kAsked; ++i) {
    const auto begun = std::chrono::steady_clock::now();
    what();
    ms.push_back(std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun)
                     .count());
  }
  std::sort(ms.begin(), ms.end());
  return {ms[ms.size() / 2], ms.front(), ms.back()};
}

double bytes_of(const fs::path& file) {
  sql::Database db(file.string());
  db.run("pragma wal_checkpoint(truncate)");
  return static_cast<double>(fs::file_size(file));
}

/// What anybody would write first: a row a reading, keyed by series and time.
class PlainRows {
 public:
  explicit PlainRows(const fs::path& file) : db_(file.string()) {
    db_.run(
        "pragma journal_mode=wal; create table reading (series integer not null, wall_ms integer "
        "not null, value real not null, primary key (series, wall_ms)) without rowid; begin");
    insert_.emplace(db_, "insert into reading values(?,?,?)");
  }
  void take(int series, const ReadingRow& row) {
    insert_->bind(series, row.wall.time_since_epoch().count(), row.value).run();
    ++rows_;
  }
  void commit() { db_.run("commit; begin"); }
  void finish() { db_.run("commit"); }
  double rows() const { return static_cast<double>(rows_); }
  std::size_t chart() {
    sql::Statement s(db_,
                     "select series, wall_ms/7200000, min(value), avg(value), max(value) from "
                     "reading where series<3 group by 1, 2");
    std::size_t points = 0;
    while (s.step()) ++points;
    return points;
  }

 private:
  sql::Database db_;
  std::optional<sql::Statement> insert_;
  std::int64_t rows_ = 0;
};

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const fs::path folder = argv[1];
  RecordKeep keep;
  ReadingsFile file((folder / "readings.db").string(), "boot", keep);
  PlainRows plain(folder / "plain.db");
  std::vector<bench::Tub> tubs;
  for (int i = 0; i < bench::kTubs; ++i) tubs.emplace_back(i);

  double samples = 0.0;
  WallTime first{}, last{};
  for (std::int64_t at = 0; at < bench::kDays * bench::kDayMs; at += kGroupMs) {
    RecordGroup group;
    for (std::int64_t in_group = 0; in_group < kGroupMs / 10'000; ++in_group) {
      for (std::size_t t = 0; t < tubs.size(); ++t) {
        const auto rows = tubs[t].next();
        group.readings.insert(group.readings.end(), rows.begin(), rows.end());
        for (std::size_t q = 0; q < rows.size(); ++q) {
          plain.take(static_cast<int>(3 * t + q), rows[q]);
        }
      }
    }
    samples += static_cast<double>(group.readings.size());
    if (at == 0) first = group.readings.front().wall;
    last = group.readings.back().wall;
    file.take(group);
    file.commit();
    file.tidy();
    plain.commit();
  }
  plain.finish();

  std::size_t points = 0, plain_points = 0;
  const Measured chart = measure([&] {
    points = 0;
    const History h = file.history({"tub-0", {}, first, last, kWidth});
    for (const auto& s : h.series) points += s.points.size();
  });
  const Measured every = measure([&] {
    file.history({"tub-0", Quantity::humidity, last - hours(24), last, milliseconds(0)});
  });
  const Measured floor = measure([&] { plain_points = plain.chart(); });

  const std::string load = fmt::format(
      "{} tubs, three quantities each 10 s, {} days, groups of 60 s", bench::kTubs, bench::kDays);
  fmt::print("history_bytes_a_sample {:.2f} B\n", bytes_of(folder / "readings.db") / samples);
  fmt::print("#   {}; {:.0f} readings; the whole file: indices, means and open tail\n", load,
             samples);
  fmt::print("history_bytes_a_sample_floor {:.2f} B\n",
             bytes_of(folder / "plain.db") / plain.rows());
  fmt::print("#   the same readings as plain rows (series, time, value), keyed, without rowid\n");
  fmt::print("history_chart_60d {:.2f} ms\n", chart.median);
  fmt::print("#   one tub, {} points of 2 h; median of {}, {:.2f} to {:.2f}\n", points, kAsked,
             chart.least, chart.most);
  fmt::print("history_chart_60d_floor {:.2f} ms\n", floor.median);
  fmt::print("#   the same from plain rows, {} points; {:.2f} to {:.2f}\n", plain_points,
             floor.least, floor.most);
  fmt::print("history_day_raw {:.2f} ms\n", every.median);
  fmt::print("#   every reading of one quantity, the last day; {:.2f} to {:.2f}\n", every.least,
             every.most);
  return 0;
}
