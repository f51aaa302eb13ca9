#include "shell/record/schema.hpp"

namespace tubwarden {
namespace {

/// `entry` is the spine: who, when, of what, and the sentence a person reads. A table a kind hangs
/// off it. `file_seen` and `phase_clock` are bookkeeping, and may change.
constexpr const char* kTables = R"sql(
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

constexpr const char* kAppendOnly[] = {"entry",     "batch",         "profile_edit",
                                       "placement", "placement_end", "phase_change",
                                       "glide",     "act",           "alert"};

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
  db.run(kTables);
  for (const char* table : kAppendOnly) forbid_changes(db, table);
  db.run(("pragma user_version=" + std::to_string(kSchemaVersion)).c_str());
  transaction.commit();
}

}  // namespace tubwarden
