// The climate that each phase kept: its tables, and the answer for reports.
#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <utility>

#include "base/text.hpp"
#include "shell/record/record_file.hpp"
#include "shell/record/row_stamp.hpp"

namespace tubwarden {
namespace {

constexpr const char* kQuantityColumns =
    "quantity, live_s, banded_s, inside_s, mean, least, most, at_least";

/// Rows of kQuantityColumns.
void read_quantities(sql::Statement& s, KeptSums& sums) {
  while (s.step()) {
    if (const auto q = quantity_named(s.text(0))) {
      sums.of(*q) = {s.real(1), s.real(2), s.real(3),        s.real(4),
                     s.real(5), s.real(6), s.integer(7) != 0};
    }
  }
}

/// Rows of output and run_s.
void read_outputs(sql::Statement& s, KeptSums& sums) {
  while (s.step()) sums.ran(s.text(0), s.real(1));
}

template <class Key>
void write_sums(sql::Database& db, const std::string& table, const Key& key, const KeptSums& sums) {
  sql::Statement quantity(db,
                          ("insert into " + table + "_quantity values(?,?,?,?,?,?,?,?,?)").c_str());
  for (Quantity q : kAllQuantities) {
    const QuantityKept& of = sums.of(q);
    if (of.live_s <= 0.0) continue;
    quantity
        .bind(key, std::string(name_of(q)), of.live_s, of.banded_s, of.inside_s, of.mean, of.least,
              of.most, of.at_least)
        .run();
  }
  sql::Statement output(db, ("insert into " + table + "_output values(?,?,?)").c_str());
  for (const OutputKept& of : sums.outputs) output.bind(key, of.id, of.run_s).run();
}

/// tub, phase, flush and lasted_ns from `column` on.
PhaseKept read_phase(const sql::Statement& s, const std::string& batch, int column, KeptSums sums) {
  return {s.text(column),
          batch,
          s.text(column + 1),
          static_cast<int>(s.integer(column + 2)),
          Duration(s.integer(column + 3)),
          std::move(sums)};
}

std::string kept_text(const PhaseKept& k) {
  const std::string flush = k.flush > 0 ? fmt::format(", flush {},", k.flush) : "";
  return fmt::format("{}{} lasted {}: {}", k.phase, flush, spoken(k.lasted), told(k.kept));
}

}  // namespace

std::int64_t RecordFile::put(const Entry& entry, const PhaseKept& k) {
  const auto id = spine(entry, "kept", {k.tub, "", k.batch}, kept_text(k));
  sql::Statement(db_, "insert into phase_kept values(?,?,?,?,?,?)")
      .bind(id, k.tub, k.batch, k.phase, k.flush, static_cast<std::int64_t>(k.lasted.count()))
      .run();
  write_sums(db_, "phase_kept", id, k.kept);
  for (const char* table : {"kept_now", "kept_now_quantity", "kept_now_output"}) {
    sql::Statement(db_, (std::string("delete from ") + table + " where tub=?").c_str())
        .bind(k.tub)
        .run();
  }
  return id;
}

void RecordFile::kept_now(const KeptNow& now) {
  const PhaseKept& k = now.so_far;
  sql::Transaction transaction(db_);
  sql::Statement(db_, "insert or replace into kept_now values(?,?,?,?,?,?)")
      .bind(k.tub, k.batch, k.phase, k.flush, now.transition,
            static_cast<std::int64_t>(k.lasted.count()))
      .run();
  sql::Statement(db_, "delete from kept_now_quantity where tub=?").bind(k.tub).run();
  sql::Statement(db_, "delete from kept_now_output where tub=?").bind(k.tub).run();
  write_sums(db_, "kept_now", k.tub, k.kept);
  transaction.commit();
}

KeptSums RecordFile::sums_of_entry(std::int64_t entry) {
  KeptSums sums;
  const std::string columns = kQuantityColumns;
  sql::Statement quantities(
      db_, ("select " + columns + " from phase_kept_quantity where entry=?").c_str());
  read_quantities(quantities.bind(entry), sums);
  sql::Statement outputs(db_, "select output, run_s from phase_kept_output where entry=?");
  read_outputs(outputs.bind(entry), sums);
  return sums;
}

KeptSums RecordFile::sums_of_now(const std::string& tub) {
  KeptSums sums;
  const std::string columns = kQuantityColumns;
  sql::Statement quantities(db_,
                            ("select " + columns + " from kept_now_quantity where tub=?").c_str());
  read_quantities(quantities.bind(tub), sums);
  sql::Statement outputs(db_, "select output, run_s from kept_now_output where tub=?");
  read_outputs(outputs.bind(tub), sums);
  return sums;
}

/// What a start goes on with: the sums of this phase, and those of the phase before.
void RecordFile::fill_kept(TubRecord& tub) {
  sql::Statement now(db_, "select 1 from kept_now where tub=? and transition=?");
  if (now.bind(tub.tub, tub.transition).step()) tub.kept = sums_of_now(tub.tub);
  if (tub.previous_transition == 0) return;
  sql::Statement before(db_,
                        "select max(entry) from phase_kept where tub=? and batch=? and entry>? and "
                        "entry<?");
  before.bind(tub.tub, tub.batch, tub.previous_transition, tub.transition);
  if (before.step() && !before.is_null(0)) tub.previous_kept = sums_of_entry(before.integer(0));
}

/// Alerts and waterings between two entries of the tub's phase. An alert is the tub's own, or of
/// the air that it stood in at that moment.
void RecordFile::add_events(KeptRow& row, std::int64_t from_entry, std::int64_t to_entry) {
  const std::string& tub = row.phase.tub;
  sql::Statement alerts(
      db_,
      "select a.cause, count(*) from alert a where a.entry>?1 and a.entry<?2 and a.raised and "
      "(a.place=?3 or a.place=(select p.chamber from placement p where p.tub=?3 and "
      "p.entry<a.entry order by p.entry desc limit 1)) group by a.cause order by 2 desc, 1");
  alerts.bind(from_entry, to_entry, tub);
  while (alerts.step()) {
    row.alerts.push_back({alerts.text(0), static_cast<int>(alerts.integer(1))});
  }
  sql::Statement water(db_,
                       "select total(w.millilitres) from watering w join entry e on e.id=w.entry "
                       "where w.entry>? and w.entry<? and e.tub=? and e.batch=?");
  if (water.bind(from_entry, to_entry, tub, row.phase.batch).step()) {
    row.watered_ml = water.real(0);
  }
}

std::map<std::string, std::vector<RecordFile::Stay>> RecordFile::stays_of(
    const std::string& batch) {
  std::map<std::string, std::vector<Stay>> stays;
  sql::Statement s(db_,
                   "select c.tub, c.entry, e.corrects, e.wall_ms, e.wall_set, e.boot_id, e.boot_ns "
                   "from phase_change c join told e on e.id=c.entry where c.batch=? order by "
                   "c.entry");
  s.bind(batch);
  while (s.step()) {
    auto& of_tub = stays[s.text(0)];
    Stay stay{s.integer(1), s.integer(1), false, stamp_at(s, 3)};
    if (!s.is_null(2)) {
      for (Stay& known : of_tub) known.taken_back |= known.change == s.integer(2);
      if (of_tub.size() >= 2) {
        const Stay& resumed = of_tub[of_tub.size() - 2];
        stay.begun_by = resumed.begun_by;
        stay.since = resumed.since;
      }
    }
    of_tub.push_back(std::move(stay));
  }
  return stays;
}

std::vector<KeptRow> RecordFile::climate_kept(const std::string& batch) {
  const auto stays = stays_of(batch);
  std::vector<KeptRow> rows;
  sql::Statement ended(db_,
                       "select k.entry, k.tub, k.phase, k.flush, k.lasted_ns, e.wall_ms, "
                       "e.wall_set, e.boot_id, e.boot_ns from phase_kept k join told e on "
                       "e.id=k.entry where k.batch=? order by k.entry");
  ended.bind(batch);
  while (ended.step()) {
    const auto of_tub = stays.find(ended.text(1));
    if (of_tub == stays.end()) continue;
    const std::int64_t entry = ended.integer(0);
    const auto next = std::find_if(of_tub->second.begin(), of_tub->second.end(),
                                   [&](const Stay& stay) { return stay.change > entry; });
    if (next == of_tub->second.begin()) continue;
    if (next != of_tub->second.end() && next->taken_back) continue;  // a slip: it went on
    const Stay& stay = *std::prev(next);
    KeptRow row{
        read_phase(ended, batch, 1, sums_of_entry(entry)), stay.since, stamp_at(ended, 5), {}, 0.0};
    add_events(row, stay.begun_by, entry);
    rows.push_back(std::move(row));
  }

  sql::Statement last(db_,
                      "select transition, tub, phase, flush, lasted_ns from kept_now where batch=? "
                      "order by tub");
  last.bind(batch);
  while (last.step()) {
    const auto of_tub = stays.find(last.text(1));
    if (of_tub == stays.end() || of_tub->second.back().change != last.integer(0)) continue;
    const Stay& stay = of_tub->second.back();
    KeptRow row{read_phase(last, batch, 1, sums_of_now(last.text(1))), stay.since, {}, {}, 0.0};
    add_events(row, stay.begun_by, INT64_MAX);
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace tubwarden
