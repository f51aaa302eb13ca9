// The record: an append-only account of batches, placements, phases, acts and alerts, and the
// readings. Threading: calls on the loop's thread; the work on the record's own; `done` comes back
// on the loop. Failure: append answers with the error and nothing of that transaction is kept; a
// reading that cannot be kept is counted.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/quantity.hpp"
#include "base/result.hpp"
#include "base/stamp.hpp"
#include "base/time.hpp"

namespace tubwarden {

enum class PhaseCause { opened, command, file, correction };
std::string_view name_of(PhaseCause cause);

struct BatchOpened {
  std::string batch;
  std::string profile;
  std::string profile_text;  ///< the stamped copy
};
struct ProfileEdited {
  std::string batch;
  std::string profile;
  std::string profile_text;
};
struct Placed {
  std::string tub, chamber, batch;
};
struct PlacementEnded {
  std::string tub, batch;
};
/// A change of phase, with the file value it was judged by in the same transaction.
struct PhaseTransition {
  std::string tub, batch;
  std::string from;  ///< empty: the first
  std::string to;
  PhaseCause cause = PhaseCause::command;
  std::string note;
  std::optional<std::string> file_seen;
  std::optional<std::int64_t> corrects;  ///< the transition that this one takes back
  /// Time already spent in `to` (a correction resumes it); zero otherwise.
  Duration elapsed_before{0};
};
/// Bookkeeping, not an act: the last phase value seen in a tub's file, and whether the grower was
/// asked.
struct FileSeen {
  std::string tub, batch, value;
  bool asked = false;
};
/// Where a glide started: the median measured in the new place.
struct GlideStarted {
  std::string tub, batch, phase;
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
};
/// Anything a hand did, or the daemon did by itself: "started", "released", "attended", ...
struct Act {
  std::string what;
  std::string tub, chamber, batch;  ///< empty where it does not apply
  std::string text;
};
struct AlertNoted {
  std::string place;  ///< tub, chamber or "site"
  std::string cause;
  bool raised = true;
  std::string text;
};

using EntryBody = std::variant<BatchOpened, ProfileEdited, Placed, PlacementEnded, PhaseTransition,
                               FileSeen, GlideStarted, Act, AlertNoted>;

struct Entry {
  Stamp stamp;
  std::string who;  ///< "file", "daemon", or the peer's user name
  EntryBody body;
};

/// What the record knows of a tub, to go on after a start.
struct TubRecord {
  std::string tub, batch, chamber;  ///< of the open placement
  std::string phase;
  std::string profile, profile_text;  ///< as last stamped into the batch
  std::int64_t transition = 0;        ///< entry that began the phase
  Stamp since;
  Duration elapsed_before{0};    ///< time in this phase before `since`
  std::string previous_phase;    ///< of the transition before, for a correction
  Duration previous_elapsed{0};  ///< time spent in it when it ended
  std::int64_t previous_transition = 0;
  std::optional<std::string> file_seen;
  bool asked = false;
  std::vector<GlideStarted> glides;  ///< of this phase
  /// The last checkpoint of the phase's elapsed time (see Record::checkpoint), if any.
  std::optional<Duration> checkpoint_elapsed;
  Stamp checkpoint;
};

/// One line of a time line, as a person reads it.
struct TimelineRow {
  std::int64_t id = 0;
  Stamp stamp;
  std::string who, kind, tub, chamber, batch, text;
  std::optional<std::int64_t> corrects;
};

struct ReadingRow {
  std::string chamber, sensor;
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
  WallTime wall{};
  bool wall_set = false;
};

struct RecordCounters {
  std::uint64_t entries = 0, readings = 0;
  std::uint64_t readings_dropped = 0;
  std::uint64_t failures = 0;
};

class Record {
 public:
  virtual ~Record() = default;
  /// One transaction, in order. `done` gets the ids once they are on disk (full sync).
  virtual void append(std::vector<Entry> entries,
                      std::function<void(Result<std::vector<std::int64_t>>)> done) = 0;
  /// Bookkeeping of elapsed phase time; best effort, no answer.
  virtual void checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                          const Stamp& stamp) = 0;
  virtual void reading(ReadingRow row) = 0;
  /// The time line of a batch, oldest first; at most `limit` newest rows.
  virtual void timeline(const std::string& batch, std::size_t limit,
                        std::function<void(Result<std::vector<TimelineRow>>)> done) = 0;
  /// All batches: id, profile, opened.
  virtual void batches(std::function<void(Result<std::vector<TimelineRow>>)> done) = 0;
  /// What the record knows of each tub with an open placement. Blocking; at the start only.
  virtual Result<std::vector<TubRecord>> tubs() = 0;
  /// The newest wall time of any entry made with a set clock. Blocking; at the start only.
  virtual Result<std::optional<WallTime>> newest() = 0;
  /// Alerts raised and not returned when the record was last written to: a run that was cut off
  /// leaves them. Blocking; at the start only.
  virtual Result<std::vector<AlertNoted>> standing_alerts() = 0;
  virtual RecordCounters counters() const = 0;
};

}  // namespace tubwarden
