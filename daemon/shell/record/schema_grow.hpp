// The tables of version 5 for what a grower does with cultures, jars and tubs. For schema.cpp only.
// Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

/// `grow_entry` hangs off the spine once an act; the rest hangs off it by what the act is about.
/// `at_ms` is when it was done; the spine says when it was entered.
inline constexpr const char* kGrowTables = R"sql(
create table grow_entry (
  entry integer primary key references entry(id),
  at_ms integer not null,
  note text not null,
  photo text not null
);
create table culture (
  entry integer primary key references grow_entry(entry),
  culture text not null,
  strain text not null,
  source text not null,
  millilitres real not null
);
create index culture_by_id on culture(culture);
create table culture_event (
  entry integer primary key references grow_entry(entry),
  culture text not null,
  what text not null,
  why text not null
);
create table sterilising (
  entry integer primary key references grow_entry(entry),
  run text not null,
  load text not null,
  hold_ns integer not null,
  gauge_kpa real,
  f0_minutes real
);
create table jar (
  id integer primary key,
  entry integer not null references grow_entry(entry),
  jar text not null,
  batch text not null,
  grain text not null,
  run text not null,
  shelf text not null,
  fill_g real,
  vented integer not null
);
create index jar_by_id on jar(jar);
create index jar_by_batch on jar(batch);
create table inoculation (
  id integer primary key,
  entry integer not null references grow_entry(entry),
  jar text not null,
  culture text not null,
  dose_ml real not null
);
create index inoculation_by_jar on inoculation(jar);
create index inoculation_by_culture on inoculation(culture);
create table jar_look (
  entry integer primary key references grow_entry(entry),
  jar text not null,
  grown_pct real not null
);
create index jar_look_by_jar on jar_look(jar);
create table jar_event (
  id integer primary key,
  entry integer not null references grow_entry(entry),
  jar text not null,
  what text not null,
  text text not null
);
create index jar_event_by_jar on jar_event(jar);
create table mix (
  entry integer primary key references grow_entry(entry),
  mix text not null,
  made_of text not null,
  dry_kg real not null,
  water_kg real not null
);
create table spawning (
  entry integer primary key references grow_entry(entry),
  tub text not null,
  batch text not null,
  mix text not null,
  substrate_kg real not null,
  dry_kg real,
  surface_m2 real
);
create table spawning_jar (
  id integer primary key,
  entry integer not null references spawning(entry),
  jar text not null
);
create index spawning_jar_by_jar on spawning_jar(jar);
create table bed_event (
  entry integer primary key references grow_entry(entry),
  tub text not null,
  batch text not null,
  what text not null,
  mm real,
  text text not null
);
create table picking (
  entry integer primary key references grow_entry(entry),
  tub text not null,
  batch text not null,
  grams real not null,
  count real
);
create index picking_by_batch on picking(batch);
create table observation (
  entry integer primary key references grow_entry(entry),
  of text not null,
  text text not null
);
create table upkeep (
  entry integer primary key references grow_entry(entry),
  what text not null,
  of text not null
);
create table undone (
  entry integer primary key references grow_entry(entry),
  undone integer not null references entry(id)
);
)sql";

/// Of these, the append-only ones.
inline constexpr std::array kGrowAppendOnly = {
    "grow_entry", "culture",     "culture_event", "sterilising", "jar",          "inoculation",
    "jar_look",   "jar_event",   "mix",           "spawning",    "spawning_jar", "bed_event",
    "picking",    "observation", "upkeep",        "undone"};

}  // namespace tubwarden
