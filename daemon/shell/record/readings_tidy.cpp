// What the readings' file does by itself: full chunks closed, old parts dropped.
#include <algorithm>

#include "shell/record/clock_offset.hpp"
#include "shell/record/readings_file.hpp"

namespace tubwarden {
namespace {

/// Chunks are dropped this many at a time: a transaction stays small.
constexpr std::int64_t kDropAtOnce = 512;
constexpr std::int64_t kDropEachMs = 3'600'000;
/// A clock must have stood this long before anything is dropped by it: set wrong by years for a
/// while, it must cost nothing.
constexpr std::int64_t kClockStandsMs = 6 * 3'600'000;

}  // namespace

void ReadingsFile::read_book() {
  book_.clear();
  sql::Statement s(db_,
                   "select series, at_ms from tail where boot=(select id from boot where "
                   "boot_id=?) order by id");
  s.bind(boot_id_);
  while (s.step()) book_.add(s.integer(0), s.integer(1));
  book_is_read_ = true;
}

void ReadingsFile::close_tail(std::int64_t boot, bool all) {
  sql::Transaction transaction(db_);
  ChunkRows rows(db_);
  std::vector<std::int64_t> closed;
  {
    sql::Statement s(db_,
                     "select id, series, at_ms, hundredths from tail where boot=? order by series, "
                     "at_ms, id");
    s.bind(boot);
    std::int64_t series = 0;
    std::vector<Sample> samples;
    const auto write = [&] {
      keep_last_of_equal(samples);
      rows.write(series, boot, samples);
      samples.clear();
    };
    while (s.step()) {
      if (s.integer(1) != series) write();
      series = s.integer(1);
      if (!all && (!book_.closes(series) || s.integer(2) >= book_.until(series))) continue;
      closed.push_back(s.integer(0));
      samples.push_back({s.integer(2), s.integer(3)});
    }
    write();
  }
  sql::Statement drop(db_, "delete from tail where id=?");
  for (const std::int64_t id : closed) drop.bind(id).run();
  transaction.commit();
}

void ReadingsFile::close_former_boots() {
  std::vector<std::int64_t> former;
  {
    sql::Statement s(db_,
                     "select distinct boot from tail where boot not in (select id from boot where "
                     "boot_id=?) order by boot");
    s.bind(boot_id_);
    while (s.step()) former.push_back(s.integer(0));
  }
  for (const std::int64_t boot : former) close_tail(boot, true);
}

void ReadingsFile::tidy() {
  if (book_.due()) {
    close_tail(boot(boot_id_).id, false);
    read_book();
  }
  if (book_.newest_ms() >= dropped_at_ms_ + kDropEachMs) drop_old();
}

std::map<std::int64_t, std::int64_t> ReadingsFile::cutoffs(Duration keep) {
  std::map<std::int64_t, std::int64_t> cut;
  sql::Statement s(db_, "select id, boot_id, offset_ms, noted_ms from boot order by id desc");
  const std::int64_t newest = book_.newest_ms(), keep_ms = ms_of(keep);
  std::optional<std::int64_t> horizon;  // by the wall clock
  bool later_is_old = false;            // a later boot began before all that is kept
  bool here = false;
  while (s.step()) {
    const std::int64_t id = s.integer(0), offset = s.integer(2);
    const bool placed = !s.is_null(2);
    if (s.text(1) == boot_id_) {
      here = true;
      if (placed && newest - s.integer(3) >= kClockStandsMs) horizon = newest + offset - keep_ms;
      cut[id] = newest - keep_ms;
      later_is_old = newest > keep_ms;
      continue;
    }
    if (!here) continue;  // what another boot noted after this one is no business of it
    cut[id] = later_is_old ? INT64_MAX : placed && horizon ? *horizon - offset : INT64_MIN;
    later_is_old = later_is_old || (placed && horizon && offset < *horizon);
  }
  return cut;
}

bool ReadingsFile::drop_some(const std::string& table, const std::string& column, Duration keep) {
  const auto cut = cutoffs(keep);
  std::int64_t last = 0, count = 0;
  {
    sql::Statement s(db_,
                     ("select id, boot, " + column + " from " + table + " order by id").c_str());
    while (count < kDropAtOnce && s.step()) {
      const auto of = cut.find(s.integer(1));
      if (of == cut.end() || s.integer(2) >= of->second) break;
      last = s.integer(0);
      ++count;
    }
  }
  if (count == 0) return false;
  sql::Transaction transaction(db_);
  sql::Statement(db_, ("delete from " + table + " where id<=?").c_str()).bind(last).run();
  transaction.commit();
  return count == kDropAtOnce;
}

void ReadingsFile::drop_old() {
  const Duration means = std::max(keep_.means, keep_.readings);
  bool more = drop_some("chunk", "last_ms", keep_.readings);
  more = drop_some("run", "began_ms", keep_.readings) || more;
  more = drop_some("means", "last_ms", means) || more;
  more = drop_some("decision", "at_ms", keep_.decisions) || more;
  dropped_at_ms_ = more ? INT64_MIN : book_.newest_ms();
}

}  // namespace tubwarden
