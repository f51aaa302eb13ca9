// Alerts on the desk, acts upon them, and the messages that are to be delivered.
#include "shell/record/clock_offset.hpp"
#include "shell/record/record_file.hpp"
#include "shell/record/row_stamp.hpp"

namespace tubwarden {
namespace {

/// What was delivered or given up is kept for a look back, so many rows of it.
constexpr std::int64_t kOutboxDoneMax = 2000;

std::int64_t boot_ns_of(const Stamp& at) { return at.boot.time_since_epoch().count(); }

}  // namespace

std::int64_t RecordFile::put(const Entry& entry, const AlertActed& a) {
  const auto id = spine(entry, "alert_act", placed_at(a.place), a.text);
  sql::Statement s(db_, "insert into alert_act values(?,?,?,?,?,?)");
  if (a.until) {
    s.bind(id, a.place, a.cause, name_of(a.verb), ms_of(*a.until), a.note);
  } else {
    s.bind(id, a.place, a.cause, name_of(a.verb), nullptr, a.note);
  }
  s.run();
  return id;
}

std::int64_t RecordFile::put(const Entry&, const AlertKept& a) {
  if (a.words.empty()) {
    sql::Statement(db_, "delete from alert_desk where place=? and cause=?")
        .bind(a.place, a.cause)
        .run();
    return 0;
  }
  sql::Statement(db_, "insert or replace into alert_desk values(?,?,?,?,?,?,?)")
      .bind(a.place, a.cause, a.words, ms_of(a.at.wall), a.at.wall_set, a.at.boot_id,
            boot_ns_of(a.at))
      .run();
  return 0;
}

std::int64_t RecordFile::put(const Entry&, const NoticeWritten& n) {
  sql::Statement(db_,
                 "insert or ignore into outbox(key, channel, rank, state, title, text, wall_ms, "
                 "wall_set, boot_id, boot_ns) values(?,?,?,?,?,?,?,?,?,?)")
      .bind(n.key, n.channel, n.rank, n.state, n.title, n.text, ms_of(n.at.wall), n.at.wall_set,
            n.at.boot_id, boot_ns_of(n.at))
      .run();
  return 0;
}

void RecordFile::notice_done(const NoticeDone& done) {
  sql::Statement(db_, "update outbox set fate=?, why=? where key=? and channel=?")
      .bind(done.delivered ? "delivered" : "given_up", done.why, done.key, done.channel)
      .run();
  sql::Statement(
      db_, "delete from outbox where fate<>'waits' and id <= (select max(id) from outbox) - ?")
      .bind(kOutboxDoneMax)
      .run();
}

std::vector<AlertKept> RecordFile::desk() {
  sql::Statement s(db_,
                   "select place, cause, words, wall_ms, wall_set, boot_id, boot_ns from "
                   "alert_desk order by place, cause");
  std::vector<AlertKept> rows;
  while (s.step()) rows.push_back({s.text(0), s.text(1), s.text(2), stamp_at(s, 3)});
  return rows;
}

std::vector<NoticeWritten> RecordFile::outbox() {
  sql::Statement s(db_,
                   "select key, channel, rank, state, title, text, wall_ms, wall_set, boot_id, "
                   "boot_ns from outbox where fate='waits' order by id");
  std::vector<NoticeWritten> rows;
  while (s.step()) {
    rows.push_back(
        {s.text(0), s.text(1), s.text(2), s.text(3), s.text(4), s.text(5), stamp_at(s, 6)});
  }
  return rows;
}

std::vector<AlertRow> RecordFile::alert_rows(WallTime from, std::size_t limit) {
  sql::Statement s(
      db_,
      "select e.wall_ms, e.wall_set, e.boot_id, e.boot_ns, e.who, x.place, x.cause, x.what, e.text "
      "from (select entry, place, cause, iif(raised, 'raised', 'returned') as what from alert "
      "union all select entry, place, cause, verb from alert_act) x join told e on e.id=x.entry "
      "where e.wall_ms>=? order by x.entry desc limit ?");
  s.bind(ms_of(from), static_cast<std::int64_t>(limit));
  std::vector<AlertRow> rows;
  while (s.step()) {
    rows.push_back({stamp_at(s, 0), s.text(4), s.text(5), s.text(6), s.text(7), s.text(8)});
  }
  return rows;
}

std::vector<AlertCount> RecordFile::alert_counts(WallTime from, std::size_t limit) {
  sql::Statement s(db_,
                   "select e.wall_ms, e.wall_set, e.boot_id, e.boot_ns, c.place, c.cause, c.n from "
                   "(select a.place, a.cause, count(*) as n, max(a.entry) as last from alert a "
                   "join told t on t.id=a.entry where a.raised=1 and t.wall_ms>=? group by "
                   "a.place, a.cause) c join told e on e.id=c.last order by c.n desc, c.last desc "
                   "limit ?");
  s.bind(ms_of(from), static_cast<std::int64_t>(limit));
  std::vector<AlertCount> rows;
  while (s.step()) {
    rows.push_back(
        {s.text(4), s.text(5), static_cast<std::uint64_t>(s.integer(6)), stamp_at(s, 0)});
  }
  return rows;
}

}  // namespace tubwarden
