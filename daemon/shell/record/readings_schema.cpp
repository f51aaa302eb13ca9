#include "shell/record/readings_schema.hpp"

#include <vector>

#include "shell/record/chunk_rows.hpp"

namespace tubwarden {
namespace {

constexpr const char* kReadings1 = R"sql(
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

/// All times are of the boot clock; a boot says by how much the wall clock is ahead of it, or does
/// not know. So one row places and replaces all that a boot has noted.
/// `tail`, `chunk` and `means` have no key but the order they were made in: rows are written at the
/// end and dropped from the beginning, and both touch few pages.
constexpr const char* kReadings2 = R"sql(
create table boot (
  id integer primary key,
  boot_id text not null unique,
  offset_ms integer,
  noted_ms integer
);
create table tail (
  id integer primary key,
  series integer not null,
  boot integer not null,
  at_ms integer not null,
  hundredths integer not null
);
create table chunk (
  id integer primary key,
  series integer not null,
  boot integer not null,
  first_ms integer not null,
  last_ms integer not null,
  count integer not null,
  packed blob not null
);
create index chunk_by_series on chunk(series, boot, first_ms);
create table means (
  id integer primary key,
  series integer not null,
  boot integer not null,
  first_ms integer not null,
  last_ms integer not null,
  packed blob not null
);
create index means_by_series on means(series, boot, first_ms);
create table output (
  id integer primary key,
  chamber text not null,
  actuator text not null,
  unique (chamber, actuator)
);
create table decision (
  id integer primary key,
  output integer not null references output(id),
  boot integer not null references boot(id),
  at_ms integer not null,
  level integer not null,
  why text not null
);
create index decision_by_output on decision(output, boot, at_ms);
create table run (
  id integer primary key,
  output integer not null references output(id),
  boot integer not null references boot(id),
  began_ms integer not null,
  lasted_ms integer not null,
  level integer not null
);
create index run_by_output on run(output, boot, began_ms);
)sql";

/// The first version had plain rows by wall time: they become chunks of a boot whose boot clock was
/// the wall clock.
void take_over_plain_rows(sql::Database& db) {
  constexpr std::size_t kAtOnce = 10 * kChunkSamples;
  db.run("insert into boot(boot_id, offset_ms, noted_ms) values('before', 0, 0)");
  const std::int64_t boot = db.last_id();
  ChunkRows rows(db);
  std::int64_t series = 0;
  std::vector<Sample> samples;
  const auto write = [&] {
    rows.write(series, boot, samples);
    samples.clear();
  };
  sql::Statement s(db, "select series, wall_ms, hundredths from reading order by series, wall_ms");
  while (s.step()) {
    if (s.integer(0) != series || samples.size() == kAtOnce) write();
    series = s.integer(0);
    samples.push_back({s.integer(1), s.integer(2)});
  }
  write();
}

}  // namespace

void prepare_readings(sql::Database& db, const std::string& path) {
  db.run("pragma journal_mode=wal; pragma synchronous=full; pragma secure_delete=off");
  const int version = db.user_version();
  if (version > kReadingsVersion) {
    throw sql::SqlError(path + " is of version " + std::to_string(version) +
                        ", made by a newer Tubwarden; this one knows version " +
                        std::to_string(kReadingsVersion) + ". Install the newer one");
  }
  if (version == kReadingsVersion) return;
  sql::Transaction transaction(db);
  if (version < 1) db.run(kReadings1);
  db.run(kReadings2);
  if (version == 1) take_over_plain_rows(db);
  db.run("drop table reading");
  db.run(("pragma user_version=" + std::to_string(kReadingsVersion)).c_str());
  transaction.commit();
}

}  // namespace tubwarden
