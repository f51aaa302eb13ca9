#include "shell/record/schema.hpp"

#include <span>

#include "shell/record/schema_grow.hpp"
#include "shell/record/schema_kept.hpp"
#include "shell/record/schema_outbox.hpp"

namespace tubwarden {
namespace {

/// `entry` is the spine: who, when, of what, and the sentence a person reads. A table a kind hangs
/// off it. `file_seen`, `phase_clock`,
/// `place_seen`, `learned` and `water_book` are bookkeeping, and may change.
constexpr const char* kVersion1 = R"sql(
create table entry (
  id integer primary key,
  kind text not null,
  wall_ms integer not null,
  wall_set integer not null,
  boot_id text not null,
  boot_ns integer not null,
  who text not null,
  tub text not null,
  chamber text not null,
  batch text not null,
  text text not null,
  corrects integer references entry(id)
);
create index entry_by_batch on entry(batch, id);
create table batch (
  entry integer primary key references entry(id),
  batch text not null unique,
  profile text not null,
  profile_text text not null
);
create table profile_edit (
  entry integer primary key references entry(id),
  batch text not null,
  profile text not null,
  profile_text text not null
);
create table placement (
  entry integer primary key references entry(id),
  tub text not null,
  chamber text not null,
  batch text not null
);
create index placement_by_tub on placement(tub, entry);
create table placement_end (
  entry integer primary key references entry(id),
  tub text not null,
  batch text not null
);
create index placement_end_by_tub on placement_end(tub, entry);
create table phase_change (
  entry integer primary key references entry(id),
  tub text not null,
  batch text not null,
  from_phase text not null,
  to_phase text not null,
  cause text not null,
  note text not null,
  elapsed_before_ns integer not null
);
create index phase_change_by_tub on phase_change(tub, batch, entry);
create table glide (
  entry integer primary key references entry(id),
  tub text not null,
  batch text not null,
  phase text not null,
  quantity text not null,
  value real not null
);
create index glide_by_tub on glide(tub, entry);
create table act (
  entry integer primary key references entry(id),
  what text not null
);
create table alert (
  entry integer primary key references entry(id),
  place text not null,
  cause text not null,
  raised integer not null
);
create index alert_by_key on alert(place, cause, entry);
create table file_seen (
  tub text primary key,
  batch text not null,
  value text not null,
  asked integer not null
) without rowid;
create table phase_clock (
  tub text primary key,
  transition integer not null,
  elapsed_ns integer not null,
  wall_ms integer not null,
  wall_set integer not null,
  boot_id text not null,
  boot_ns integer not null
) without rowid;
)sql";

/// `told` is an entry as a person reads it: where the clock was not set, the time is found by the
/// boot clock and the newest offset that was noted in the same boot.
constexpr const char* kVersion2 = R"sql(
create table hand (
  entry integer primary key references entry(id),
  chamber text not null,
  kind text not null,
  actuator text not null,
  level integer not null,
  lasts_ns integer not null
);
create index hand_by_place on hand(chamber, kind, actuator, entry);
create table hand_end (
  entry integer primary key references entry(id),
  chamber text not null,
  kind text not null,
  actuator text not null
);
create index hand_end_by_place on hand_end(chamber, kind, actuator, entry);
create table watering (
  entry integer primary key references entry(id),
  millilitres real not null
);
create table place_seen (
  tub text primary key,
  value text not null
) without rowid;
create table boot_clock (
  id integer primary key,
  boot_id text not null,
  boot_ns integer not null,
  offset_ms integer not null
);
create index boot_clock_by_boot on boot_clock(boot_id, id);
create index placement_by_batch on placement(batch, entry);
create view boot_offset as
  select boot_id, offset_ms from boot_clock c
  where id = (select max(id) from boot_clock d where d.boot_id = c.boot_id);
create view told as
  select e.id, e.kind,
    iif(e.wall_set or c.offset_ms is null, e.wall_ms, e.boot_ns / 1000000 + c.offset_ms) as wall_ms,
    e.wall_set or c.offset_ms is not null as wall_set,
    e.boot_id, e.boot_ns, e.who, e.tub, e.chamber, e.batch, e.text, e.corrects,
    not e.wall_set and c.offset_ms is not null as mended
  from entry e left join boot_offset c on c.boot_id = e.boot_id;
insert into boot_clock(boot_id, boot_ns, offset_ms)
  select boot_id, boot_ns, wall_ms - boot_ns / 1000000 from entry
  where id in (select max(id) from entry where wall_set group by boot_id) order by id;
)sql";

constexpr const char* kVersion3 = R"sql(
create table learned (
  chamber text not null,
  actuator text not null,
  rate real not null,
  share real not null,
  share_error real not null,
  lag_s real not null,
  lag_error real not null,
  primary key (chamber, actuator)
) without rowid;
)sql";

constexpr const char* kVersion4 = R"sql(
create table water_book (
  chamber text primary key,
  text text not null,
  wall_ms integer not null,
  wall_set integer not null,
  boot_id text not null,
  boot_ns integer not null
) without rowid;
)sql";

constexpr const char* kAppendOnly1[] = {"entry",     "batch",         "profile_edit",
                                        "placement", "placement_end", "phase_change",
                                        "glide",     "act",           "alert"};
constexpr const char* kAppendOnly2[] = {"hand", "hand_end", "watering", "boot_clock"};

/// What brings a file from one version to the next; a new file takes every step.
struct Step {
  int to_version;
  const char* tables;
  std::span<const char* const> append_only;
};
const Step kSteps[] = {{1, kVersion1, kAppendOnly1},
                       {2, kVersion2, kAppendOnly2},
                       {3, kVersion3, {}},
                       {4, kVersion4, {}},
                       {5, kGrowTables, kGrowAppendOnly},
                       {5, kKeptTables, kKeptAppendOnly},
                       {5, kOutboxTables, kOutboxAppendOnly}};

void forbid_changes(sql::Database& db, const std::string& table) {
  for (const char* change : {"update", "delete"}) {
    const std::string text = "create trigger " + table + "_no_" + change + " before " + change +
                             " on " + table +
                             " begin select raise(abort, 'the record is append-only'); end";
    db.run(text.c_str());
  }
}

}  // namespace

void prepare_record(sql::Database& db, const std::string& path) {
  db.run("pragma journal_mode=wal; pragma synchronous=full; pragma foreign_keys=on");
  const int version = db.user_version();
  if (version > kSchemaVersion) {
    throw sql::SqlError(path + " is of version " + std::to_string(version) +
                        ", made by a newer Tubwarden; this one knows version " +
                        std::to_string(kSchemaVersion) + ". Install the newer one");
  }
  if (version == kSchemaVersion) return;
  sql::Transaction transaction(db);
  for (const Step& step : kSteps) {
    if (step.to_version <= version) continue;
    db.run(step.tables);
    for (const char* table : step.append_only) forbid_changes(db, table);
  }
  db.run(("pragma user_version=" + std::to_string(kSchemaVersion)).c_str());
  transaction.commit();
}

}  // namespace tubwarden
