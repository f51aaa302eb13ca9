// The tables of version 5 for alerts seen, shelved and put off, and the messages that are to be
// delivered. For schema.cpp only. Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

/// `alert_desk` and `outbox` are bookkeeping, and may change.
inline constexpr const char* kOutboxTables = R"sql(
create table alert_act (
  entry integer primary key references entry(id),
  place text not null,
  cause text not null,
  verb text not null,
  until_ms integer,
  note text not null
);
create index alert_act_by_key on alert_act(place, cause, entry);
create table alert_desk (
  place text not null,
  cause text not null,
  words text not null,
  wall_ms integer not null,
  wall_set integer not null,
  boot_id text not null,
  boot_ns integer not null,
  primary key (place, cause)
) without rowid;
create table outbox (
  id integer primary key,
  key text not null,
  channel text not null,
  rank text not null,
  state text not null,
  title text not null,
  text text not null,
  wall_ms integer not null,
  wall_set integer not null,
  boot_id text not null,
  boot_ns integer not null,
  fate text not null default 'waits',
  why text not null default '',
  unique (key, channel)
);
create index outbox_by_fate on outbox(fate, id);
)sql";

/// Of these, the append-only ones.
inline constexpr std::array<const char*, 1> kOutboxAppendOnly = {"alert_act"};

}  // namespace tubwarden
