#include "shell/record/readings_file.hpp"

#include <cmath>

namespace tubwarden {
namespace {

constexpr int kReadingsVersion = 1;
constexpr double kStepsPerUnit = 100.0;
constexpr const char* kReadingTables = R"sql(
create table series (
  id integer primary key,
  chamber text not null,
  sensor text not null,
  quantity text not null,
  unit text not null,
  unique (chamber, sensor, quantity)
);
create table reading (
  series integer not null references series(id),
  wall_ms integer not null,
  hundredths integer not null,
  primary key (series, wall_ms)
) without rowid;
)sql";

}  // namespace

ReadingsFile::ReadingsFile(const std::string& path) : db_(path) {
  db_.run("pragma journal_mode=wal; pragma synchronous=normal");
  const int version = db_.user_version();
  if (version > kReadingsVersion) {
    throw sql::SqlError(path + " is of version " + std::to_string(version) +
                        ", made by a newer Tubwarden. Install the newer one");
  }
  if (version == kReadingsVersion) return;
  sql::Transaction transaction(db_);
  db_.run(kReadingTables);
  db_.run(("pragma user_version=" + std::to_string(kReadingsVersion)).c_str());
  transaction.commit();
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

void ReadingsFile::write(const std::vector<ReadingRow>& rows) {
  try {
    sql::Transaction transaction(db_);
    sql::Statement insert(db_, "insert or replace into reading values(?,?,?)");
    for (const ReadingRow& row : rows) {
      insert
          .bind(series(row), static_cast<std::int64_t>(row.wall.time_since_epoch().count()),
                static_cast<std::int64_t>(std::llround(row.value * kStepsPerUnit)))
          .run();
    }
    transaction.commit();
  } catch (...) {
    series_.clear();  // ids of a transaction that was rolled back
    throw;
  }
}

}  // namespace tubwarden
