#include "shell/record/readings_file.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "shell/record/clock_offset.hpp"
#include "shell/record/readings_schema.hpp"

namespace tubwarden {
namespace {

constexpr double kStepsPerUnit = 100.0;

}  // namespace

ReadingsFile::ReadingsFile(const std::string& path, std::string boot_id, const RecordKeep& keep)
    : db_(path), boot_id_(std::move(boot_id)), keep_(keep) {
  prepare_readings(db_, path);
  close_former_boots();
  read_book();
}

void ReadingsFile::begin() {
  if (begun_) return;
  db_.run("begin immediate");
  begun_ = true;
}

std::uint64_t ReadingsFile::commit() {
  if (begun_) db_.run("commit");
  begun_ = false;
  return std::exchange(open_, 0);
}

std::uint64_t ReadingsFile::forget() {
  if (begun_) sqlite3_exec(db_.handle(), "rollback", nullptr, nullptr, nullptr);
  begun_ = false;
  // Ids of a transaction that was rolled back.
  series_.clear();
  outputs_.clear();
  boots_.clear();
  book_.clear();
  book_is_read_ = false;
  return std::exchange(open_, 0);
}

ReadingsFile::Boot& ReadingsFile::boot(const std::string& boot_id) {
  if (const auto found = boots_.find(boot_id); found != boots_.end()) return found->second;
  sql::Statement(db_, "insert or ignore into boot(boot_id) values(?)").bind(boot_id).run();
  sql::Statement s(db_, "select id, offset_ms from boot where boot_id=?");
  s.bind(boot_id).step();
  Boot known{s.integer(0), boot_id, {}};
  if (!s.is_null(1)) known.offset_ms = s.integer(1);
  return boots_[boot_id] = known;
}

void ReadingsFile::note_clock(Boot& boot, const Stamp& stamp) {
  const std::int64_t offset_ms = offset_of(stamp);
  if (boot.offset_ms && same_clock(*boot.offset_ms, offset_ms)) return;
  sql::Statement(db_, "update boot set offset_ms=?, noted_ms=? where id=?")
      .bind(offset_ms, ms_of(stamp.boot), boot.id)
      .run();
  boot.offset_ms = offset_ms;
}

ReadingsFile::Boot& ReadingsFile::boot_of(const Stamp& stamp) {
  Boot& known = boot(stamp.boot_id);
  if (stamp.wall_set && !known.offset_ms) {
    note_clock(known, stamp);
  }
  return known;
}

std::int64_t ReadingsFile::series(const ReadingRow& row) {
  const auto key = std::make_tuple(row.chamber, row.sensor, row.quantity);
  if (const auto found = series_.find(key); found != series_.end()) return found->second;
  sql::Statement(db_,
                 "insert or ignore into series(chamber, sensor, quantity, unit) values(?,?,?,?)")
      .bind(row.chamber, row.sensor, name_of(row.quantity), unit_of(row.quantity))
      .run();
  sql::Statement s(db_, "select id from series where chamber=? and sensor=? and quantity=?");
  s.bind(row.chamber, row.sensor, name_of(row.quantity)).step();
  return series_[key] = s.integer(0);
}

std::int64_t ReadingsFile::output(const std::string& chamber, const std::string& actuator) {
  const auto key = std::make_tuple(chamber, actuator);
  if (const auto found = outputs_.find(key); found != outputs_.end()) return found->second;
  sql::Statement(db_, "insert or ignore into output(chamber, actuator) values(?,?)")
      .bind(chamber, actuator)
      .run();
  sql::Statement s(db_, "select id from output where chamber=? and actuator=?");
  s.bind(chamber, actuator).step();
  return outputs_[key] = s.integer(0);
}

void ReadingsFile::take(const RecordGroup& group) {
  if (group.empty()) return;
  open_ += group.readings.size();
  if (!book_is_read_) read_book();
  begin();
  if (group.clock) {
    note_clock(boot(group.clock->boot_id), *group.clock);
  }
  sql::Statement reading(db_, "insert into tail(series, boot, at_ms, hundredths) values(?,?,?,?)");
  for (const ReadingRow& row : group.readings) take(row, reading);
  for (const DecisionRow& row : group.decisions) take(row);
  for (const RunRow& row : group.runs) take(row);
}

void ReadingsFile::take(const ReadingRow& row, sql::Statement& insert) {
  const double steps = row.value * kStepsPerUnit;
  if (!(std::abs(steps) <= static_cast<double>(kHundredthsMax))) {
    ++refused_;
    --open_;
    return;
  }
  const Boot& of = boot_of({row.wall, row.wall_set, boot_id_, row.boot});
  const std::int64_t id = series(row);
  insert.bind(id, of.id, ms_of(row.boot), static_cast<std::int64_t>(std::llround(steps))).run();
  book_.add(id, ms_of(row.boot));
}

void ReadingsFile::take(const DecisionRow& row) {
  const Boot& of = boot_of(row.stamp);
  sql::Statement(db_, "insert into decision(output, boot, at_ms, level, why) values(?,?,?,?,?)")
      .bind(output(row.chamber, row.actuator), of.id, ms_of(row.stamp.boot),
            static_cast<std::int64_t>(row.level), row.why)
      .run();
}

void ReadingsFile::take(const RunRow& row) {
  const Boot& of = boot_of(row.began);
  sql::Statement(db_, "insert into run(output, boot, began_ms, lasted_ms, level) values(?,?,?,?,?)")
      .bind(output(row.chamber, row.actuator), of.id, ms_of(row.began.boot), ms_of(row.lasted),
            static_cast<std::int64_t>(row.level))
      .run();
}

std::vector<ReadingsFile::Boot> ReadingsFile::boots() {
  std::vector<Boot> all;
  sql::Statement s(db_, "select id, boot_id, offset_ms from boot order by id desc");
  while (s.step()) {
    Boot b{s.integer(0), s.text(1), {}};
    if (!s.is_null(2)) b.offset_ms = s.integer(2);
    all.push_back(std::move(b));
  }
  return all;
}

}  // namespace tubwarden
