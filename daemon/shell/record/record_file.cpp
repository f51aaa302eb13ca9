#include "shell/record/record_file.hpp"

#include <utility>

#include "base/ensure.hpp"
#include "core/grow/phase_truth.hpp"
#include "shell/record/row_stamp.hpp"
#include "shell/record/schema.hpp"

namespace tubwarden {
std::optional<Quantity> quantity_named(std::string_view name) {
  for (Quantity q : kAllQuantities) {
    if (name_of(q) == name) return q;
  }
  return std::nullopt;
}

RecordFile::RecordFile(const std::string& path) : db_(path) { prepare_record(db_, path); }

std::vector<TubRecord> RecordFile::tubs() {
  std::vector<TubRecord> found;
  sql::Statement s(db_,
                   "select p.tub, p.chamber, p.batch from placement p where p.entry = (select "
                   "max(entry) from placement q where q.tub=p.tub) and not exists (select 1 from "
                   "placement_end e where e.tub=p.tub and e.entry>p.entry) order by p.tub");
  while (s.step()) {
    TubRecord tub;
    tub.tub = s.text(0);
    tub.chamber = s.text(1);
    tub.batch = s.text(2);
    fill_phases(tub);
    fill_bookkeeping(tub);
    fill_kept(tub);
    if (!tub.phase.empty()) found.push_back(std::move(tub));
  }
  return found;
}

void RecordFile::fill_phases(TubRecord& tub) {
  sql::Statement s(
      db_,
      "select c.entry, c.to_phase, c.elapsed_before_ns, e.wall_ms, e.wall_set, "
      "e.boot_id, e.boot_ns, e.corrects, c.cause from phase_change c join told e on e.id=c.entry "
      "where c.tub=? and c.batch=? order by c.entry");
  s.bind(tub.tub, tub.batch);
  std::string cause;
  while (s.step()) {
    const Stamp since = stamp_at(s, 3);
    const std::string cause_before = std::exchange(cause, s.text(8));
    tub.begun_by_plan = cause == name_of(PhaseCause::plan);
    tub.plan_taken_back = !s.is_null(7) && cause_before == name_of(PhaseCause::plan);
    if (s.is_null(7)) {
      ++tub.entered[s.text(1)];
      tub.previous_phase = tub.phase;
      tub.previous_transition = tub.transition;
      tub.previous_elapsed =
          tub.phase.empty() ? Duration{0} : elapsed_at(tub.since, tub.elapsed_before, since);
    } else {
      --tub.entered[tub.phase];
      tub.previous_phase.clear();
      tub.previous_transition = 0;
      tub.previous_elapsed = Duration{0};
    }
    tub.transition = s.integer(0);
    tub.phase = s.text(1);
    tub.elapsed_before = Duration(s.integer(2));
    tub.since = since;
  }
}

void RecordFile::fill_bookkeeping(TubRecord& tub) {
  sql::Statement profile(db_,
                         "select profile, profile_text from (select entry, batch, profile, "
                         "profile_text from batch union all select * from profile_edit) where "
                         "batch=(?) order by entry desc limit 1");
  if (profile.bind(tub.batch).step()) {
    tub.profile = profile.text(0);
    tub.profile_text = profile.text(1);
  }
  sql::Statement seen(db_, "select value, asked from file_seen where tub=? and batch=?");
  if (seen.bind(tub.tub, tub.batch).step()) {
    tub.file_seen = seen.text(0);
    tub.asked = seen.integer(1) != 0;
  }
  sql::Statement place(db_, "select value from place_seen where tub=?");
  if (place.bind(tub.tub).step()) tub.place_seen = place.text(0);
  sql::Statement glide(db_, "select phase, quantity, value from glide where tub=? and entry>?");
  glide.bind(tub.tub, tub.transition);
  while (glide.step()) {
    if (const auto q = quantity_named(glide.text(1))) {
      tub.glides.push_back({tub.tub, tub.batch, glide.text(0), *q, glide.real(2)});
    }
  }
  sql::Statement clock(db_,
                       "select p.elapsed_ns, iif(p.wall_set or c.offset_ms is null, p.wall_ms, "
                       "p.boot_ns/1000000 + c.offset_ms), p.wall_set or c.offset_ms is not null, "
                       "p.boot_id, p.boot_ns from phase_clock p left join boot_offset c on "
                       "c.boot_id=p.boot_id where p.tub=? and p.transition=?");
  if (clock.bind(tub.tub, tub.transition).step()) {
    tub.checkpoint_elapsed = Duration(clock.integer(0));
    tub.checkpoint = stamp_at(clock, 1);
  }
}

namespace {

TimelineRow row_of(const sql::Statement& s) {
  TimelineRow row;
  row.id = s.integer(0);
  row.kind = s.text(1);
  row.stamp = stamp_at(s, 2);
  row.who = s.text(6);
  row.tub = s.text(7);
  row.chamber = s.text(8);
  row.batch = s.text(9);
  row.text = s.text(10);
  if (!s.is_null(11)) row.corrects = s.integer(11);
  row.mended = s.integer(12) != 0;
  if (!s.is_null(13)) row.done = WallTime(milliseconds(s.integer(13)));
  row.photo = s.text(14);
  return row;
}

}  // namespace

std::vector<TimelineRow> RecordFile::timeline(const std::string& batch, std::size_t limit) {
  sql::Statement s(
      db_,
      "select * from (select id, kind, wall_ms, wall_set, boot_id, boot_ns, who, tub, "
      "chamber, batch, text, corrects, mended, g.at_ms, g.photo from told left join grow_entry g "
      "on g.entry=id where batch=? order by id desc limit ?) order by id");
  s.bind(batch, static_cast<std::int64_t>(limit));
  std::vector<TimelineRow> rows;
  while (s.step()) rows.push_back(row_of(s));
  return rows;
}

std::vector<TimelineRow> RecordFile::batches() {
  sql::Statement s(
      db_,
      "select e.id, e.kind, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns, e.who, e.tub, "
      "e.chamber, e.batch, e.text, e.corrects, e.mended, null, '' from batch b join told e on "
      "e.id=b.entry "
      "order by e.id");
  std::vector<TimelineRow> rows;
  while (s.step()) rows.push_back(row_of(s));
  return rows;
}

std::optional<ProfileEdited> RecordFile::profile_of(const std::string& batch) {
  sql::Statement s(db_,
                   "select profile, profile_text from (select entry, batch, profile, "
                   "profile_text from batch union all select * from profile_edit) where batch=? "
                   "order by entry desc limit 1");
  if (!s.bind(batch).step()) return std::nullopt;
  return ProfileEdited{batch, s.text(0), s.text(1)};
}

std::optional<WallTime> RecordFile::newest() {
  sql::Statement s(db_, "select max(wall_ms) from entry where wall_set=1");
  if (!s.step() || s.is_null(0)) return std::nullopt;
  return WallTime(milliseconds(s.integer(0)));
}

std::vector<AlertNoted> RecordFile::standing_alerts() {
  sql::Statement s(
      db_,
      "select a.place, a.cause, e.text from alert a join entry e on e.id=a.entry where "
      "a.raised=1 and a.entry=(select max(entry) from alert b where b.place=a.place and "
      "b.cause=a.cause) order by a.entry");
  std::vector<AlertNoted> alerts;
  while (s.step()) alerts.push_back({s.text(0), s.text(1), true, s.text(2)});
  return alerts;
}

std::vector<HandOpen> RecordFile::open_hands() {
  sql::Statement s(
      db_,
      "select e.tub, e.chamber, e.batch, h.kind, h.actuator, h.level, h.lasts_ns, e.text, "
      "e.wall_ms, e.wall_set, e.boot_id, e.boot_ns from hand h join told e on e.id=h.entry where "
      "not exists (select 1 from hand n where n.chamber=h.chamber and n.kind=h.kind and "
      "n.actuator=h.actuator and n.entry>h.entry) and not exists (select 1 from hand_end d where "
      "d.chamber=h.chamber and d.kind=h.kind and d.actuator=h.actuator and d.entry>h.entry) order "
      "by h.entry");
  std::vector<HandOpen> hands;
  while (s.step()) {
    const auto kind = hand_kind_named(s.text(3));
    if (!kind) continue;
    hands.push_back({{s.text(0), s.text(1), s.text(2), *kind, s.text(4),
                      static_cast<Level>(s.integer(5)), Duration(s.integer(6)), s.text(7)},
                     stamp_at(s, 8)});
  }
  return hands;
}

std::vector<LearnedRow> RecordFile::learned() {
  sql::Statement s(db_,
                   "select chamber, actuator, rate, share, share_error, lag_s, lag_error from "
                   "learned order by chamber, actuator");
  std::vector<LearnedRow> rows;
  while (s.step()) {
    rows.push_back({s.text(0), s.text(1), s.real(2), s.real(3), s.real(4), s.real(5), s.real(6)});
  }
  return rows;
}

std::vector<BookRow> RecordFile::books() {
  sql::Statement s(db_,
                   "select chamber, text, wall_ms, wall_set, boot_id, boot_ns from water_book "
                   "order by chamber");
  std::vector<BookRow> rows;
  while (s.step()) rows.push_back({s.text(0), s.text(1), stamp_at(s, 2)});
  return rows;
}

std::vector<PhaseRow> RecordFile::phases(const std::string& tub_or_batch) {
  sql::Statement s(db_,
                   "select c.tub, c.batch, c.to_phase, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns "
                   "from phase_change c join told e on e.id=c.entry where c.tub=?1 or c.batch=?1 "
                   "order by c.entry");
  s.bind(tub_or_batch);
  std::vector<PhaseRow> rows;
  while (s.step()) rows.push_back({s.text(0), s.text(1), s.text(2), stamp_at(s, 3)});
  return rows;
}

std::vector<PhaseRow> RecordFile::all_phases() {
  sql::Statement s(db_,
                   "select c.tub, c.batch, c.to_phase, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns "
                   "from phase_change c join told e on e.id=c.entry order by c.entry");
  std::vector<PhaseRow> rows;
  while (s.step()) rows.push_back({s.text(0), s.text(1), s.text(2), stamp_at(s, 3)});
  return rows;
}

std::vector<ActRow> RecordFile::last_acts(const std::string& what) {
  sql::Statement s(db_,
                   "select e.tub, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns from told e where "
                   "e.id in (select max(a.entry) from act a join entry t on t.id=a.entry where "
                   "a.what=? group by t.tub) order by e.tub");
  s.bind(what);
  std::vector<ActRow> rows;
  while (s.step()) rows.push_back({s.text(0), stamp_at(s, 1)});
  return rows;
}

std::vector<PlacementRow> RecordFile::placements(const std::string& tub_or_batch) {
  // A placement ends with its own end, or with the next placement of the same tub.
  sql::Statement s(db_,
                   "select p.tub, p.chamber, p.batch, b.wall_ms, b.wall_set, b.boot_id, b.boot_ns, "
                   "t.id, t.wall_ms, t.wall_set, t.boot_id, t.boot_ns from (select *, (select "
                   "min(entry) from (select min(entry) as entry from placement_end e where "
                   "e.tub=q.tub and e.entry>q.entry union all select min(entry) from placement n "
                   "where n.tub=q.tub and n.entry>q.entry)) as over from placement q where "
                   "q.tub=?1 or q.batch=?1) p join told b on b.id=p.entry left join told t on "
                   "t.id=p.over order by p.entry");
  s.bind(tub_or_batch);
  std::vector<PlacementRow> rows;
  while (s.step()) {
    PlacementRow row{s.text(0), s.text(1), s.text(2), stamp_at(s, 3), {}};
    if (!s.is_null(7)) row.to = stamp_at(s, 8);
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace tubwarden
