// Entries into their tables, one body at a time.
#include <fmt/format.h>

#include "base/text.hpp"
#include "core/grow/phase_truth.hpp"
#include "shell/record/clock_offset.hpp"
#include "shell/record/record_file.hpp"

namespace tubwarden {
namespace {

std::int64_t ns(Duration d) { return d.count(); }

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
    case PhaseCause::plan:
      text += ", by its plan";
      break;
  }
  if (p.flush > 0) text += fmt::format(", flush {}", p.flush);
  if (!p.note.empty()) text += ": " + p.note;
  return text;
}

std::string air_text(const std::string& tub, const std::string& chamber) {
  return chamber == tub ? "its own air" : "chamber " + chamber;
}

}  // namespace

std::vector<std::int64_t> RecordFile::append(const std::vector<Entry>& entries) {
  std::vector<std::int64_t> ids;
  sql::Transaction transaction(db_);
  for (const Entry& entry : entries) {
    ids.push_back(std::visit([&](const auto& body) { return put(entry, body); }, entry.body));
  }
  transaction.commit();
  return ids;
}

std::int64_t RecordFile::spine(const Entry& entry, const char* kind, const Of& of,
                               const std::string& text, std::optional<std::int64_t> corrects) {
  const Stamp& at = entry.stamp;
  sql::Statement(db_,
                 "insert into entry(kind, wall_ms, wall_set, boot_id, boot_ns, who, tub, chamber, "
                 "batch, text, corrects) values(?,?,?,?,?,?,?,?,?,?,?)")
      .bind(kind, ms_of(at.wall), at.wall_set, at.boot_id, ns(at.boot.time_since_epoch()),
            entry.who, of.tub, of.chamber, of.batch, text, corrects)
      .run();
  return db_.last_id();
}

std::int64_t RecordFile::put(const Entry& entry, const BatchOpened& b) {
  sql::Statement known(db_, "select 1 from batch where batch=?");
  if (known.bind(b.batch).step()) return 0;  // two tubs of one batch open it once
  const auto id = spine(entry, "batch", {"", "", b.batch},
                        fmt::format("batch {} opened with profile {}", b.batch, b.profile));
  sql::Statement(db_, "insert into batch values(?,?,?,?)")
      .bind(id, b.batch, b.profile, b.profile_text)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const ProfileEdited& p) {
  const auto id = spine(entry, "profile", {"", "", p.batch},
                        fmt::format("profile {} edited; it applies from now", p.profile));
  sql::Statement(db_, "insert into profile_edit values(?,?,?,?)")
      .bind(id, p.batch, p.profile, p.profile_text)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const Placed& p) {
  const auto id = spine(entry, "placed", {p.tub, p.chamber, p.batch},
                        fmt::format("{} stands in {}", p.tub, air_text(p.tub, p.chamber)));
  sql::Statement(db_, "insert into placement values(?,?,?,?)")
      .bind(id, p.tub, p.chamber, p.batch)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const PlacementEnded& p) {
  const auto id =
      spine(entry, "placement_end", {p.tub, p.chamber, p.batch},
            p.chamber.empty() ? fmt::format("batch {} leaves {}", p.batch, p.tub)
                              : fmt::format("{} leaves {}", p.tub, air_text(p.tub, p.chamber)));
  sql::Statement(db_, "insert into placement_end values(?,?,?)").bind(id, p.tub, p.batch).run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const PhaseTransition& p) {
  std::optional<std::int64_t> corrects = p.corrects;
  if (p.cause == PhaseCause::correction && !corrects) {
    // What it takes back was not on disk yet when it was decided; by now it is.
    sql::Statement last(db_, "select max(entry) from phase_change where tub=? and batch=?");
    if (last.bind(p.tub, p.batch).step() && !last.is_null(0)) corrects = last.integer(0);
  }
  const auto id = spine(entry, "phase", {p.tub, "", p.batch}, phase_text(p), corrects);
  sql::Statement(db_, "insert into phase_change values(?,?,?,?,?,?,?,?)")
      .bind(id, p.tub, p.batch, p.from, p.to, name_of(p.cause), p.note, ns(p.elapsed_before))
      .run();
  if (p.file_seen) put(entry, FileSeen{p.tub, p.batch, *p.file_seen, false});
  return id;
}

std::int64_t RecordFile::put(const Entry&, const FileSeen& f) {
  sql::Statement(db_,
                 "insert into file_seen(tub, batch, value, asked) values(?,?,?,?) on conflict(tub) "
                 "do update set batch=excluded.batch, value=excluded.value, asked=excluded.asked")
      .bind(f.tub, f.batch, f.value, f.asked)
      .run();
  return 0;
}

std::int64_t RecordFile::put(const Entry&, const PlaceSeen& p) {
  sql::Statement(db_,
                 "insert into place_seen(tub, value) values(?,?) on conflict(tub) do update set "
                 "value=excluded.value")
      .bind(p.tub, p.value)
      .run();
  return 0;
}

std::int64_t RecordFile::put(const Entry& entry, const GlideStarted& g) {
  const auto id = spine(entry, "glide", {g.tub, "", g.batch},
                        fmt::format("{} glides from {} {}", word_of(g.quantity), trimmed(g.value),
                                    unit_of(g.quantity)));
  sql::Statement(db_, "insert into glide values(?,?,?,?,?,?)")
      .bind(id, g.tub, g.batch, g.phase, name_of(g.quantity), g.value)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const Act& a) {
  const auto id = spine(entry, "act", {a.tub, a.chamber, a.batch}, a.text);
  sql::Statement(db_, "insert into act values(?,?)").bind(id, a.what).run();
  return id;
}

/// An alert of a tub or its air belongs to the batch that stands there now.
RecordFile::Of RecordFile::placed_at(const std::string& place) {
  sql::Statement s(db_,
                   "select p.tub, p.batch from placement p where (p.tub=?1 or p.chamber=?1) "
                   "and not exists (select 1 from placement_end e where e.tub=p.tub and "
                   "e.entry>p.entry) and not exists (select 1 from placement n where n.tub=p.tub "
                   "and n.entry>p.entry) order by p.entry desc limit 1");
  const bool placed = s.bind(place).step();
  return {placed ? s.text(0) : "", place, placed ? s.text(1) : ""};
}

std::int64_t RecordFile::put(const Entry& entry, const AlertNoted& a) {
  const Of of = placed_at(a.place);
  const auto id = spine(entry, a.raised ? "alert" : "alert_over", of, a.text);
  sql::Statement(db_, "insert into alert values(?,?,?,?)")
      .bind(id, a.place, a.cause, a.raised)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const HandTaken& h) {
  const auto id = spine(entry, "hand", {h.tub, h.chamber, h.batch}, h.text);
  sql::Statement(db_, "insert into hand values(?,?,?,?,?,?)")
      .bind(id, h.chamber, name_of(h.kind), h.actuator, static_cast<std::int64_t>(h.level),
            ns(h.lasts))
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const HandEnded& h) {
  const auto id = spine(entry, "hand_end", {h.tub, h.chamber, h.batch}, h.text);
  sql::Statement(db_, "insert into hand_end values(?,?,?,?)")
      .bind(id, h.chamber, name_of(h.kind), h.actuator)
      .run();
  return id;
}

std::int64_t RecordFile::put(const Entry& entry, const Watered& w) {
  const auto id = spine(entry, "watered", {w.tub, w.chamber, w.batch},
                        fmt::format("watered with {} mL", trimmed(w.millilitres, 0)));
  sql::Statement(db_, "insert into watering values(?,?)").bind(id, w.millilitres).run();
  return id;
}

void RecordFile::checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                            const Stamp& at) {
  sql::Statement(db_,
                 "insert into phase_clock values(?,?,?,?,?,?,?) on conflict(tub) do update set "
                 "transition=excluded.transition, elapsed_ns=excluded.elapsed_ns, "
                 "wall_ms=excluded.wall_ms, wall_set=excluded.wall_set, boot_id=excluded.boot_id, "
                 "boot_ns=excluded.boot_ns")
      .bind(tub, transition, ns(elapsed), ms_of(at.wall), at.wall_set, at.boot_id,
            ns(at.boot.time_since_epoch()))
      .run();
}

void RecordFile::learned(const LearnedRow& row) {
  sql::Statement(db_, "insert or replace into learned values(?,?,?,?,?,?,?)")
      .bind(row.chamber, row.actuator, row.rate, row.share, row.share_error, row.lag_s,
            row.lag_error)
      .run();
}

void RecordFile::book(const BookRow& row) {
  sql::Statement(db_, "insert or replace into water_book values(?,?,?,?,?,?)")
      .bind(row.chamber, row.text, ms_of(row.at.wall), row.at.wall_set, row.at.boot_id,
            ns(row.at.boot.time_since_epoch()))
      .run();
}

void RecordFile::clock_set(const Stamp& now) {
  const std::int64_t offset = offset_of(now);
  sql::Statement last(db_, "select offset_ms from boot_offset where boot_id=?");
  if (last.bind(now.boot_id).step() && same_clock(last.integer(0), offset)) return;
  sql::Statement(db_, "insert into boot_clock(boot_id, boot_ns, offset_ms) values(?,?,?)")
      .bind(now.boot_id, ns(now.boot.time_since_epoch()), offset)
      .run();
}

}  // namespace tubwarden
