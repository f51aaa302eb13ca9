// The tables of version 5 for the climate that each phase kept, and what ended it. For schema.cpp
// only. Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

/// `kept_now` and its figures are bookkeeping: the phase that lasts still, by its last checkpoint.
inline constexpr const char* kKeptTables = R"sql(
create table phase_kept (
  entry integer primary key references entry(id),
  tub text not null,
  batch text not null,
  phase text not null,
  flush integer not null,
  lasted_ns integer not null
);
create index phase_kept_by_batch on phase_kept(batch, tub, entry);
create table phase_kept_quantity (
  entry integer not null references entry(id),
  quantity text not null,
  live_s real not null,
  banded_s real not null,
  inside_s real not null,
  mean real not null,
  least real not null,
  most real not null,
  at_least integer not null,
  primary key (entry, quantity)
) without rowid;
create table phase_kept_output (
  entry integer not null references entry(id),
  output text not null,
  run_s real not null,
  primary key (entry, output)
) without rowid;
create table kept_now (
  tub text primary key,
  batch text not null,
  phase text not null,
  flush integer not null,
  transition integer not null,
  lasted_ns integer not null
) without rowid;
create table kept_now_quantity (
  tub text not null,
  quantity text not null,
  live_s real not null,
  banded_s real not null,
  inside_s real not null,
  mean real not null,
  least real not null,
  most real not null,
  at_least integer not null,
  primary key (tub, quantity)
) without rowid;
create table kept_now_output (
  tub text not null,
  output text not null,
  run_s real not null,
  primary key (tub, output)
) without rowid;
)sql";

/// Of these, the append-only ones.
inline constexpr std::array<const char*, 3> kKeptAppendOnly = {"phase_kept", "phase_kept_quantity",
                                                               "phase_kept_output"};

}  // namespace tubwarden
