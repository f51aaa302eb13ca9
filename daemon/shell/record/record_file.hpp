// The record's file: entries in, questions out. Blocking; SqliteRecord gives it a thread.
// Threading: one thread. Failure: throws SqlError; nothing of a failed transaction is kept.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

class RecordFile {
 public:
  /// Opens or makes the file; full sync, so that what was answered survives a power cut.
  explicit RecordFile(const std::string& path);

  std::vector<std::int64_t> append(const std::vector<Entry>& entries);
  void checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                  const Stamp& stamp);
  std::vector<TubRecord> tubs();
  std::vector<TimelineRow> timeline(const std::string& batch, std::size_t limit);
  std::vector<TimelineRow> batches();
  std::optional<WallTime> newest();
  std::vector<AlertNoted> standing_alerts();

 private:
  std::int64_t add(const Entry& entry);
  std::int64_t spine(const Entry& entry, const char* kind, const std::string& tub,
                     const std::string& chamber, const std::string& batch, const std::string& text,
                     std::optional<std::int64_t> corrects = {});
  void see(const std::string& tub, const std::string& batch, const std::string& value, bool asked);
  bool knows_batch(const std::string& batch);
  void fill_phases(TubRecord& tub);
  void fill_bookkeeping(TubRecord& tub);

  sql::Database db_;
};

}  // namespace tubwarden
