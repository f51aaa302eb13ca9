// The record on disk: record.db for entries, each transaction synced before it is answered, and
// readings.db for readings, in groups; each on its own thread, so that a slow card never delays an
// output. Threading: calls on the loop's thread; answers come back through `post`. Failure: an
// entry that cannot be kept is answered with the error; readings that cannot be kept are counted.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/record_options.hpp"

namespace tubwarden {

class SqliteRecord final : public Record {
 public:
  using Post = std::function<void(std::function<void()>)>;

  /// Opens the folder (made if it is not there) and locks it for this process. Refuses one that is
  /// in use, one that is damaged, and one of a newer version, each with what to do.
  static Result<std::unique_ptr<SqliteRecord>> open(const RecordOptions& options, Post post);
  ~SqliteRecord() override;

  void append(std::vector<Entry> entries,
              std::function<void(Result<std::vector<std::int64_t>>)> done) override;
  void checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                  const Stamp& stamp) override;
  void reading(ReadingRow row) override;
  void decision(DecisionRow row) override;
  void run(RunRow row) override;
  void sync(std::function<void(Outcome)> done) override;
  void clock_set(const Stamp& now) override;
  void history(HistoryAsk ask, std::function<void(Result<History>)> done) override;
  void decisions(const std::string& chamber, const std::string& actuator,
                 std::optional<WallTime> before, std::size_t limit,
                 std::function<void(Result<std::vector<DecisionRow>>)> done) override;
  void phases(const std::string& tub_or_batch,
              std::function<void(Result<std::vector<PhaseRow>>)> done) override;
  void placements(const std::string& tub_or_batch,
                  std::function<void(Result<std::vector<PlacementRow>>)> done) override;
  void timeline(const std::string& batch, std::size_t limit,
                std::function<void(Result<std::vector<TimelineRow>>)> done) override;
  void profile_of(const std::string& batch,
                  std::function<void(Result<ProfileEdited>)> done) override;
  void batches(std::function<void(Result<std::vector<TimelineRow>>)> done) override;
  Result<std::vector<TubRecord>> tubs() override;
  Result<std::optional<WallTime>> newest() override;
  Result<std::vector<AlertNoted>> standing_alerts() override;
  Result<std::vector<AlertKept>> desk() override;
  Result<std::vector<NoticeWritten>> outbox() override;
  void notice_done(NoticeDone done) override;
  void alert_rows(WallTime from, std::size_t limit,
                  std::function<void(Result<std::vector<AlertRow>>)> done) override;
  void alert_counts(WallTime from, std::size_t limit,
                    std::function<void(Result<std::vector<AlertCount>>)> done) override;
  Result<std::vector<HandOpen>> open_hands() override;
  void learned(LearnedRow row) override;
  void book(BookRow row) override;
  void kept_now(KeptNow now) override;
  void climate_kept(const std::string& batch,
                    std::function<void(Result<std::vector<KeptRow>>)> done) override;
  Result<std::vector<BookRow>> books() override;
  Result<std::vector<LearnedRow>> learned() override;
  Result<std::vector<GrowEntry>> grow_entries() override;
  Result<std::vector<PhaseRow>> all_phases() override;
  Result<std::vector<ActRow>> last_acts(const std::string& what) override;
  RecordCounters counters() const override;

  /// Everything handed over is on disk when this returns; nothing is taken afterwards.
  void close();

 private:
  struct Impl;
  explicit SqliteRecord(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden
