// The readings' file: readings, and beside them decisions and runs, committed in groups, apart from
// the record so that a lost group never touches an entry. All times are of the boot clock; a boot
// says by how much the wall clock is ahead of it.
// Threading: one thread. Failure: throws SqlError; all that was taken since the last commit is
// lost, and answered by forget().
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

/// What is handed over at once.
struct RecordGroup {
  std::vector<ReadingRow> readings;
  std::vector<DecisionRow> decisions;
  std::vector<RunRow> runs;
  std::optional<Stamp> clock;  ///< the wall clock was set, or set anew
  std::size_t size() const { return readings.size() + decisions.size() + runs.size(); }
  bool empty() const { return size() == 0 && !clock; }
};

class ReadingsFile {
 public:
  /// `boot_id` is the boot that readings are of.
  ReadingsFile(const std::string& path, std::string boot_id);

  /// Takes a group; questions see it at once. Values are kept as integers of a hundredth of their
  /// unit; one that is no such number is refused and counted in `refused`.
  void take(const RecordGroup& group);
  /// What was taken is on disk when this returns. Answers the readings in it.
  std::uint64_t commit();
  /// After an error: nothing of what was taken since the last commit stays. Answers the readings in
  /// it.
  std::uint64_t forget();
  std::uint64_t refused() const { return refused_; }

  std::vector<DecisionRow> decisions(const std::string& chamber, const std::string& actuator,
                                     std::optional<WallTime> before, std::size_t limit);

 private:
  struct Boot {
    std::int64_t id = 0;
    std::string boot_id;
    std::optional<std::int64_t> offset_ms;
  };
  void begin();
  Boot& boot(const std::string& boot_id);
  /// The clock's offset in this boot: as told by clock_set, or by the first stamp with a set clock.
  void note_clock(Boot& boot, const Stamp& stamp);
  Boot& boot_of(const Stamp& stamp);
  std::int64_t series(const ReadingRow& row);
  std::int64_t output(const std::string& chamber, const std::string& actuator);
  void take(const ReadingRow& row, sql::Statement& insert);
  void take(const DecisionRow& row);
  void take(const RunRow& row);
  /// Newest first.
  std::vector<Boot> boots();

  sql::Database db_;
  const std::string boot_id_;
  std::map<std::tuple<std::string, std::string, Quantity>, std::int64_t> series_;
  std::map<std::tuple<std::string, std::string>, std::int64_t> outputs_;
  std::map<std::string, Boot> boots_;
  std::uint64_t open_ = 0;  ///< readings taken and not committed
  bool begun_ = false;
  std::uint64_t refused_ = 0;
};

}  // namespace tubwarden
