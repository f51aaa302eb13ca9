#include "shell/record/record_file.hpp"

#include <fmt/format.h>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/grow/phase_truth.hpp"
#include "shell/record/schema.hpp"

namespace tubwarden {
namespace {

template <class... Ts>
struct overloaded : Ts... {
  using Ts::operator()...;
};
template <class... Ts>
overloaded(Ts...) -> overloaded<Ts...>;

std::int64_t ns(Duration d) { return d.count(); }
std::int64_t ms(WallTime t) { return t.time_since_epoch().count(); }

std::string phase_text(const PhaseTransition& p) {
  std::string text = p.from.empty() ? fmt::format("phase {} begins", p.to)
                                    : fmt::format("phase {} -> {}", p.from, p.to);
  switch (p.cause) {
    case PhaseCause::opened:
    case PhaseCause::command:
      break;
    case PhaseCause::file:
      text += ", by its file";
      break;
    case PhaseCause::correction:
      text += ", a slip taken back";
      break;
  }
  if (!p.note.empty()) text += ": " + p.note;
  return text;
}

Stamp stamp_at(const sql::Statement& s, int column) {
  return {WallTime(milliseconds(s.integer(column))), s.integer(column + 1) != 0, s.text(column + 2),
          Instant(Duration(s.integer(column + 3)))};
}

std::optional<Quantity> quantity_named(const std::string& name) {
  for (Quantity q : kAllQuantities) {
    if (name_of(q) == name) return q;
  }
  return std::nullopt;
}

}  // namespace

RecordFile::RecordFile(const std::string& path) : db_(path) { prepare_record(db_, path); }

std::vector<std::int64_t> RecordFile::append(const std::vector<Entry>& entries) {
  std::vector<std::int64_t> ids;
  sql::Transaction transaction(db_);
  for (const Entry& entry : entries) ids.push_back(add(entry));
  transaction.commit();
  return ids;
}

std::int64_t RecordFile::spine(const Entry& entry, const char* kind, const std::string& tub,
                               const std::string& chamber, const std::string& batch,
                               const std::string& text, std::optional<std::int64_t> corrects) {
  const Stamp& at = entry.stamp;
  sql::Statement(db_,
                 "insert into entry(kind, wall_ms, wall_set, boot_id, boot_ns, who, tub, chamber, "
                 "batch, text, corrects) values(?,?,?,?,?,?,?,?,?,?,?)")
      .bind(kind, ms(at.wall), at.wall_set, at.boot_id, ns(at.boot.time_since_epoch()), entry.who,
            tub, chamber, batch, text, corrects)
      .run();
  return db_.last_id();
}

void RecordFile::see(const std::string& tub, const std::string& batch, const std::string& value,
                     bool asked) {
  sql::Statement(db_,
                 "insert into file_seen(tub, batch, value, asked) values(?,?,?,?) on conflict(tub) "
                 "do update set batch=excluded.batch, value=excluded.value, asked=excluded.asked")
      .bind(tub, batch, value, asked)
      .run();
}

bool RecordFile::knows_batch(const std::string& batch) {
  sql::Statement s(db_, "select 1 from batch where batch=?");
  return s.bind(batch).step();
}

/// Adds one entry. Bookkeeping bodies have no entry of their own and answer 0; so does the opening
/// of a batch that is open already (two tubs of one batch).
std::int64_t RecordFile::add(const Entry& entry) {
  return std::visit(
      overloaded{
          [&](const BatchOpened& b) -> std::int64_t {
            if (knows_batch(b.batch)) return 0;
            const auto id =
                spine(entry, "batch", "", "", b.batch,
                      fmt::format("batch {} opened with profile {}", b.batch, b.profile));
            sql::Statement(db_, "insert into batch values(?,?,?,?)")
                .bind(id, b.batch, b.profile, b.profile_text)
                .run();
            return id;
          },
          [&](const ProfileEdited& p) {
            const auto id = spine(entry, "profile", "", "", p.batch,
                                  fmt::format("profile {} edited; it applies from now", p.profile));
            sql::Statement(db_, "insert into profile_edit values(?,?,?,?)")
                .bind(id, p.batch, p.profile, p.profile_text)
                .run();
            return id;
          },
          [&](const Placed& p) {
            const std::string where = p.chamber == p.tub ? "its own air" : "chamber " + p.chamber;
            const auto id = spine(entry, "placed", p.tub, p.chamber, p.batch,
                                  fmt::format("{} stands in {}", p.tub, where));
            sql::Statement(db_, "insert into placement values(?,?,?,?)")
                .bind(id, p.tub, p.chamber, p.batch)
                .run();
            return id;
          },
          [&](const PlacementEnded& p) {
            const auto id = spine(entry, "placement_end", p.tub, "", p.batch,
                                  fmt::format("batch {} leaves {}", p.batch, p.tub));
            sql::Statement(db_, "insert into placement_end values(?,?,?)")
                .bind(id, p.tub, p.batch)
                .run();
            return id;
          },
          [&](const PhaseTransition& p) {
            const auto id = spine(entry, "phase", p.tub, "", p.batch, phase_text(p), p.corrects);
            sql::Statement(db_, "insert into phase_change values(?,?,?,?,?,?,?,?)")
                .bind(id, p.tub, p.batch, p.from, p.to, name_of(p.cause), p.note,
                      ns(p.elapsed_before))
                .run();
            if (p.file_seen) see(p.tub, p.batch, *p.file_seen, false);
            return id;
          },
          [&](const FileSeen& f) -> std::int64_t {
            see(f.tub, f.batch, f.value, f.asked);
            return 0;
          },
          [&](const GlideStarted& g) {
            const auto id = spine(entry, "glide", g.tub, "", g.batch,
                                  fmt::format("{} glides from {} {}", word_of(g.quantity),
                                              trimmed(g.value), unit_of(g.quantity)));
            sql::Statement(db_, "insert into glide values(?,?,?,?,?,?)")
                .bind(id, g.tub, g.batch, g.phase, name_of(g.quantity), g.value)
                .run();
            return id;
          },
          [&](const Act& a) {
            const auto id = spine(entry, "act", a.tub, a.chamber, a.batch, a.text);
            sql::Statement(db_, "insert into act values(?,?)").bind(id, a.what).run();
            return id;
          },
          [&](const AlertNoted& a) {
            // An alert of a tub or its air belongs to the batch that stands there now.
            sql::Statement s(
                db_,
                "select p.tub, p.batch from placement p where (p.tub=?1 or p.chamber=?1) "
                "and not exists (select 1 from placement_end e where e.tub=p.tub and "
                "e.entry>p.entry) order by p.entry desc limit 1");
            const bool placed = s.bind(a.place).step();
            const std::string tub = placed ? s.text(0) : "";
            const std::string batch = placed ? s.text(1) : "";
            const auto id =
                spine(entry, a.raised ? "alert" : "alert_over", tub, a.place, batch, a.text);
            sql::Statement(db_, "insert into alert values(?,?,?,?)")
                .bind(id, a.place, a.cause, a.raised)
                .run();
            return id;
          },
          [&](const HandTaken& h) {
            return spine(entry, "hand", h.tub, h.chamber, h.batch, h.text);
          },
          [&](const HandEnded& h) {
            return spine(entry, "hand_end", h.tub, h.chamber, h.batch, h.text);
          },
          [&](const Watered& w) {
            return spine(entry, "watered", w.tub, w.chamber, w.batch,
                         fmt::format("watered with {} mL", trimmed(w.millilitres, 0)));
          },
          [&](const PlaceSeen&) -> std::int64_t { return 0; },
      },
      entry.body);
}

void RecordFile::checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                            const Stamp& at) {
  sql::Statement(db_,
                 "insert into phase_clock values(?,?,?,?,?,?,?) on conflict(tub) do update set "
                 "transition=excluded.transition, elapsed_ns=excluded.elapsed_ns, "
                 "wall_ms=excluded.wall_ms, wall_set=excluded.wall_set, boot_id=excluded.boot_id, "
                 "boot_ns=excluded.boot_ns")
      .bind(tub, transition, ns(elapsed), ms(at.wall), at.wall_set, at.boot_id,
            ns(at.boot.time_since_epoch()))
      .run();
}

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
    if (!tub.phase.empty()) found.push_back(std::move(tub));
  }
  return found;
}

void RecordFile::fill_phases(TubRecord& tub) {
  sql::Statement s(
      db_,
      "select c.entry, c.to_phase, c.elapsed_before_ns, e.wall_ms, e.wall_set, "
      "e.boot_id, e.boot_ns, e.corrects from phase_change c join entry e on e.id=c.entry "
      "where c.tub=? and c.batch=? order by c.entry");
  s.bind(tub.tub, tub.batch);
  while (s.step()) {
    const Stamp since = stamp_at(s, 3);
    if (s.is_null(7)) {
      tub.previous_phase = tub.phase;
      tub.previous_transition = tub.transition;
      tub.previous_elapsed =
          tub.phase.empty() ? Duration{0} : elapsed_at(tub.since, tub.elapsed_before, since);
    } else {
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
  sql::Statement glide(db_, "select phase, quantity, value from glide where tub=? and entry>?");
  glide.bind(tub.tub, tub.transition);
  while (glide.step()) {
    if (const auto q = quantity_named(glide.text(1))) {
      tub.glides.push_back({tub.tub, tub.batch, glide.text(0), *q, glide.real(2)});
    }
  }
  sql::Statement clock(db_,
                       "select elapsed_ns, wall_ms, wall_set, boot_id, boot_ns from phase_clock "
                       "where tub=? and transition=?");
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
  return row;
}

}  // namespace

std::vector<TimelineRow> RecordFile::timeline(const std::string& batch, std::size_t limit) {
  sql::Statement s(
      db_,
      "select * from (select id, kind, wall_ms, wall_set, boot_id, boot_ns, who, tub, "
      "chamber, batch, text, corrects from entry where batch=? order by id desc limit ?) "
      "order by id");
  s.bind(batch, static_cast<std::int64_t>(limit));
  std::vector<TimelineRow> rows;
  while (s.step()) rows.push_back(row_of(s));
  return rows;
}

std::vector<TimelineRow> RecordFile::batches() {
  sql::Statement s(
      db_,
      "select e.id, e.kind, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns, e.who, e.tub, "
      "e.chamber, e.batch, e.text, e.corrects from batch b join entry e on e.id=b.entry "
      "order by e.id");
  std::vector<TimelineRow> rows;
  while (s.step()) rows.push_back(row_of(s));
  return rows;
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

}  // namespace tubwarden
