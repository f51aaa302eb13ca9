#include "shell/record/readings_file.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "shell/record/clock_offset.hpp"
#include "shell/record/readings_schema.hpp"

namespace tubwarden {
namespace {

constexpr double kStepsPerUnit = 100.0;
/// No sensor of an air says more, in hundredths.
constexpr double kGreatest = 1e12;

}  // namespace

ReadingsFile::ReadingsFile(const std::string& path, std::string boot_id)
    : db_(path), boot_id_(std::move(boot_id)) {
  prepare_readings(db_, path);
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
  if (!(std::abs(steps) <= kGreatest)) {
    ++refused_;
    --open_;
    return;
  }
  const Boot& of = boot_of({row.wall, row.wall_set, boot_id_, row.boot});
  insert.bind(series(row), of.id, ms_of(row.boot), static_cast<std::int64_t>(std::llround(steps)))
      .run();
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

namespace {

Stamp stamp_of(const std::string& boot_id, std::optional<std::int64_t> offset_ms,
               std::int64_t at_ms) {
  return {WallTime(milliseconds(at_ms + offset_ms.value_or(0))), offset_ms.has_value(), boot_id,
          Instant(milliseconds(at_ms))};
}

}  // namespace

std::vector<DecisionRow> ReadingsFile::decisions(const std::string& chamber,
                                                 const std::string& actuator,
                                                 std::optional<WallTime> before,
                                                 std::size_t limit) {
  std::vector<std::pair<std::int64_t, std::string>> outputs;
  sql::Statement named(
      db_, "select id, actuator from output where chamber=? and (?2='' or actuator=?2)");
  named.bind(chamber, actuator);
  while (named.step()) outputs.emplace_back(named.integer(0), named.text(1));

  std::vector<DecisionRow> rows;
  sql::Statement s(db_,
                   "select at_ms, level, why from decision where output=? and boot=? and at_ms<? "
                   "order by at_ms desc, id desc limit ?");
  for (const Boot& b : boots()) {  // boots follow each other, so the newest hold the newest rows
    if (rows.size() >= limit) break;
    if (before && !b.offset_ms) continue;  // whether it was before cannot be told
    const std::int64_t until = before ? boot_ms(*before, *b.offset_ms) : INT64_MAX;
    const std::size_t begun = rows.size();
    for (const auto& [id, name] : outputs) {
      s.bind(id, b.id, until, static_cast<std::int64_t>(limit));
      while (s.step()) {
        rows.push_back({chamber, name, static_cast<Level>(s.integer(1)), s.text(2),
                        stamp_of(b.boot_id, b.offset_ms, s.integer(0))});
      }
    }
    std::stable_sort(rows.begin() + static_cast<std::ptrdiff_t>(begun), rows.end(),
                     [](const auto& x, const auto& y) { return x.stamp.boot > y.stamp.boot; });
  }
  if (rows.size() > limit) rows.resize(limit);
  return rows;
}

}  // namespace tubwarden
