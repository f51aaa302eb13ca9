// The readings' file: readings, and beside them decisions and runs, committed in groups, apart from
// the record so that a lost group never touches an entry. New readings lie in the tail, older ones
// in packed chunks. All times are of the boot clock; a boot says by how much the wall clock is
// ahead of it. Threading: one thread. Failure: throws SqlError; all that was taken since the last
// commit is lost, and answered by forget().
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/record_options.hpp"
#include "shell/record/sqlite.hpp"
#include "shell/record/tail_book.hpp"

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
  /// `boot_id` is the boot that readings are of. Closes what other boots left in the tail.
  ReadingsFile(const std::string& path, std::string boot_id, const RecordKeep& keep);

  /// Takes a group; questions see it at once. Values are kept as integers of a hundredth of their
  /// unit; one that is no such number is refused and counted in `refused`.
  void take(const RecordGroup& group);
  /// What was taken is on disk when this returns. Answers the readings in it.
  std::uint64_t commit();
  /// After an error: nothing of what was taken since the last commit stays. Answers the readings in
  /// it.
  std::uint64_t forget();
  std::uint64_t refused() const { return refused_; }

  /// After a commit: closes the chunks that are full, and drops what has been kept long enough, a
  /// part at a time; each in a transaction of its own.
  void tidy();

  History history(const HistoryAsk& ask);
  std::vector<DecisionRow> decisions(const std::string& chamber, const std::string& actuator,
                                     std::optional<WallTime> before, std::size_t limit);

 private:
  struct Boot {
    std::int64_t id = 0;
    std::string boot_id;
    std::optional<std::int64_t> offset_ms;
  };
  struct Source {
    std::int64_t id = 0;
    std::string sensor;
    Quantity quantity = Quantity::humidity;
  };
  /// Of one series in one boot: [from, to).
  struct Part {
    std::int64_t series = 0, boot = 0;
    std::int64_t from_ms = 0, to_ms = 0;
  };
  struct Found {
    std::vector<Sample> samples;
    std::vector<Bin> bins;
    std::uint64_t damaged = 0;
    void add(std::span<const Sample> more, const Part& part);
    void add(std::span<const Bin> more, const Part& part);
    void take(Found&& more);
  };
  using Tail = std::map<std::pair<std::int64_t, std::int64_t>, std::vector<Sample>>;

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

  void close_tail(std::int64_t boot, bool all);
  void close_former_boots();
  void read_book();

  void drop_old();
  /// For each boot the time before which nothing is kept.
  std::map<std::int64_t, std::int64_t> cutoffs(Duration keep);
  /// True when there may be more.
  bool drop_some(const std::string& table, const std::string& column, Duration keep);

  std::vector<Source> sources(const HistoryAsk& ask);
  Tail read_tail(const std::vector<Source>& sources);
  bool read_chunks(const Part& part, std::size_t limit, bool as_written, Found& found);
  /// All of them, or those whose readings are kept no longer.
  void read_means(const Part& part, bool all, Found& found);
  HistorySeries series_of(const HistoryAsk& ask, const Source& source,
                          const std::vector<Boot>& boots, const Tail& tail, std::size_t limit,
                          History& history);
  std::vector<RunRow> runs(const HistoryAsk& ask, const std::vector<Boot>& boots, bool& cut);
  std::uint64_t unplaced(const std::vector<Source>& sources, const std::vector<Boot>& boots,
                         const Tail& tail);

  sql::Database db_;
  const std::string boot_id_;
  const RecordKeep keep_;
  TailBook book_;
  bool book_is_read_ = false;
  std::int64_t dropped_at_ms_ = INT64_MIN;  ///< when old parts were last looked for
  std::map<std::tuple<std::string, std::string, Quantity>, std::int64_t> series_;
  std::map<std::tuple<std::string, std::string>, std::int64_t> outputs_;
  std::map<std::string, Boot> boots_;
  std::uint64_t open_ = 0;  ///< readings taken and not committed
  bool begun_ = false;
  std::uint64_t refused_ = 0;
};

}  // namespace tubwarden
