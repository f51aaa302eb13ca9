// The record's file: entries in, questions out. Blocking; SqliteRecord gives it a thread.
// Threading: one thread. Failure: throws SqlError; nothing of a failed transaction is kept.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

/// By its name_of; nothing for any other word.
std::optional<Quantity> quantity_named(std::string_view name);

class RecordFile {
 public:
  /// Opens or makes the file; full sync, so that what was answered survives a power cut.
  explicit RecordFile(const std::string& path);

  std::vector<std::int64_t> append(const std::vector<Entry>& entries);
  void checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                  const Stamp& stamp);
  void learned(const LearnedRow& row);
  void book(const BookRow& row);
  void kept_now(const KeptNow& now);
  /// Notes by how much the wall clock is ahead of the boot clock, unless that is known already.
  void clock_set(const Stamp& now);

  std::vector<TubRecord> tubs();
  std::vector<TimelineRow> timeline(const std::string& batch, std::size_t limit);
  std::vector<TimelineRow> batches();
  std::optional<ProfileEdited> profile_of(const std::string& batch);
  std::optional<WallTime> newest();
  std::vector<AlertNoted> standing_alerts();
  std::vector<AlertKept> desk();
  std::vector<NoticeWritten> outbox();
  void notice_done(const NoticeDone& done);
  std::vector<AlertRow> alert_rows(WallTime from, std::size_t limit);
  std::vector<AlertCount> alert_counts(WallTime from, std::size_t limit);
  std::vector<HandOpen> open_hands();
  std::vector<LearnedRow> learned();
  std::vector<BookRow> books();
  std::vector<PlacementRow> placements(const std::string& tub_or_batch);
  std::vector<PhaseRow> phases(const std::string& tub_or_batch);
  std::vector<KeptRow> climate_kept(const std::string& batch);
  std::vector<PhaseRow> all_phases();
  std::vector<GrowEntry> grow_entries();
  std::vector<ActRow> last_acts(const std::string& what);

 private:
  struct Of {
    std::string tub, chamber, batch;
  };
  Of placed_at(const std::string& place);
  std::int64_t spine(const Entry& entry, const char* kind, const Of& of, const std::string& text,
                     std::optional<std::int64_t> corrects = {});
  // Each answers the entry's id; bookkeeping has no entry of its own and answers 0, and so does the
  // opening of a batch that is open already.
  std::int64_t put(const Entry& entry, const BatchOpened& b);
  std::int64_t put(const Entry& entry, const ProfileEdited& p);
  std::int64_t put(const Entry& entry, const Placed& p);
  std::int64_t put(const Entry& entry, const PlacementEnded& p);
  std::int64_t put(const Entry& entry, const PhaseTransition& p);
  std::int64_t put(const Entry& entry, const FileSeen& f);
  std::int64_t put(const Entry& entry, const GlideStarted& g);
  std::int64_t put(const Entry& entry, const Act& a);
  std::int64_t put(const Entry& entry, const AlertNoted& a);
  std::int64_t put(const Entry& entry, const HandTaken& h);
  std::int64_t put(const Entry& entry, const HandEnded& h);
  std::int64_t put(const Entry& entry, const Watered& w);
  std::int64_t put(const Entry& entry, const PlaceSeen& p);
  std::int64_t put(const Entry& entry, const PhaseKept& k);
  std::int64_t put(const Entry& entry, const GrowNoted& g);
  std::int64_t put(const Entry& entry, const AlertActed& a);
  std::int64_t put(const Entry& entry, const AlertKept& a);
  std::int64_t put(const Entry& entry, const NoticeWritten& n);
  void fill_phases(TubRecord& tub);
  void fill_kept(TubRecord& tub);
  /// Where a transition leads, a correction back to the stay before.
  struct Stay {
    std::int64_t change = 0;
    std::int64_t begun_by = 0;  ///< the transition that began the stay
    bool taken_back = false;
    Stamp since{};
  };
  std::map<std::string, std::vector<Stay>> stays_of(const std::string& batch);  ///< by tub
  KeptSums sums_of_entry(std::int64_t entry);
  KeptSums sums_of_now(const std::string& tub);
  void add_events(KeptRow& row, std::int64_t from_entry, std::int64_t to_entry);
  void fill_bookkeeping(TubRecord& tub);

  sql::Database db_;
};

}  // namespace tubwarden
