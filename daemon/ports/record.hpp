// The record: an append-only account of batches, placements, phases, acts and alerts, and the
// readings. Threading: calls on the loop's thread; the work on the record's own; `done` comes back
// on the loop. Failure: append answers with the error and nothing of that transaction is kept; a
// reading that cannot be kept is counted.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/quantity.hpp"
#include "base/result.hpp"
#include "base/stamp.hpp"
#include "base/time.hpp"
#include "core/chamber/hand.hpp"
#include "core/climate/kept_climate.hpp"
#include "core/ledger/grow_act.hpp"
#include "core/output/output_plan.hpp"
#include "ports/record_alerts.hpp"

namespace tubwarden {

/// `plan`: the profile's `next` with `how: go`.
enum class PhaseCause { opened, command, file, correction, plan };
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
  std::string chamber{};  ///< the air that the tub leaves; empty: its batch leaves the tub
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
  int flush = 0;  ///< the flush that `to` belongs to, for the sentence; 0: none
};
/// The climate kept in a phase that ends: before the transition (or the end of the placement) that
/// ends it, in the same transaction. A correction has none: the phase that it takes back never was.
struct PhaseKept {
  std::string tub, batch, phase;
  int flush = 0;  ///< 0: the phase belongs to none
  Duration lasted{0};
  KeptSums kept;
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

/// The grower's hand on an air or an output, for a while (see core/chamber/hand.hpp).
struct HandTaken {
  std::string tub, chamber, batch;
  HandKind kind = HandKind::attend;
  std::string actuator;  ///< empty with attend
  Level level = kRest;
  Duration lasts{0};
  std::string text;
};
struct HandEnded {
  std::string tub, chamber, batch;
  HandKind kind = HandKind::attend;
  std::string actuator;
  std::string text;  ///< how it ended, and for a trial what moved
};
/// Water given to a casing by hand.
struct Watered {
  std::string tub, chamber, batch;
  double millilitres = 0.0;
};
/// What a grower did with cultures, jars, runs, mixes and beds. `entry` and `who` of the act are
/// the record's to give; an Undone corrects the entry that it names.
struct GrowNoted {
  GrowEntry grow;
  std::string tub, batch;  ///< whose time line shows it; empty: none
};
/// Bookkeeping, not an act: the chamber last seen in a tub's file.
struct PlaceSeen {
  std::string tub, value;
};

using EntryBody =
    std::variant<BatchOpened, ProfileEdited, Placed, PlacementEnded, PhaseTransition, FileSeen,
                 GlideStarted, Act, AlertNoted, HandTaken, HandEnded, Watered, PlaceSeen, PhaseKept,
                 GrowNoted, AlertActed, AlertKept, NoticeWritten>;

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
  std::optional<std::string> place_seen;  ///< the chamber last seen in its file
  bool asked = false;
  std::vector<GlideStarted> glides;  ///< of this phase
  /// The last checkpoint of the phase's elapsed time (see Record::checkpoint), if any.
  std::optional<Duration> checkpoint_elapsed;
  Stamp checkpoint;
  /// How often each phase was entered in this batch; transitions taken back do not count.
  std::map<std::string, int> entered;
  bool begun_by_plan = false;             ///< the plan went on to this phase by itself
  bool plan_taken_back = false;           ///< the last transition took one of the plan's own back
  std::optional<KeptSums> kept;           ///< of this phase, by its last checkpoint
  std::optional<KeptSums> previous_kept;  ///< of the phase before, for a correction
};

/// Bookkeeping, not an act: the climate kept so far in the phase that `transition` began.
struct KeptNow {
  std::int64_t transition = 0;
  PhaseKept so_far;
};

/// The climate of one phase of one tub, for a report.
struct KeptRow {
  struct Raised {
    std::string cause;
    int times = 0;
  };
  PhaseKept phase;             ///< of a phase that lasts still: by its last checkpoint
  Stamp from;                  ///< when the tub entered it
  std::optional<Stamp> to;     ///< nothing: it lasts still
  std::vector<Raised> alerts;  ///< of the tub and of the air it stood in, by cause
  double watered_ml = 0.0;     ///< by hand
};

/// One line of a time line, as a person reads it.
struct TimelineRow {
  std::int64_t id = 0;
  Stamp stamp;          ///< mended where it can be
  bool mended = false;  ///< made before the clock was set; the time was found afterwards
  std::string who, kind, tub, chamber, batch, text;
  std::optional<std::int64_t> corrects;
  std::optional<WallTime> done;  ///< of a grower's act: when it was done; may be earlier
  std::string photo;             ///< path of a picture; empty: none
};

/// Bookkeeping, not an act: what was learned of a mister and of the sensor that it is judged by.
struct LearnedRow {
  std::string chamber, actuator;
  double rate = 0.0;  ///< g/h, by which the share counts; W
  /// Of a heater or cooler: the rise that holds its substrate, K/h, instead of a share; no errors.
  double share = 1.0, share_error = 0.3;
  double lag_s = 8.0, lag_error = 0.4;
};

/// Bookkeeping, not an act: an air's water book, in words of the warden's own.
struct BookRow {
  std::string chamber;
  std::string text;
  Stamp at;
};

struct ReadingRow {
  std::string chamber, sensor;
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
  WallTime wall{};
  bool wall_set = false;
  Instant boot{};  ///< of this boot; the time of a reading made before the clock was set
};

/// What an output was told to do, and why, when either changed.
struct DecisionRow {
  std::string chamber, actuator;
  Level level = kRest;
  std::string why;  ///< a sentence
  Stamp stamp;
};

/// A time for which an output stood above rest.
struct RunRow {
  std::string chamber, actuator;
  Level level = kRun;
  Stamp began;
  Duration lasted{0};
};

/// An entry of the record that a restart goes on with.
struct HandOpen {
  HandTaken hand;
  Stamp stamp;
};

/// Where a tub and its batch stood, from a moment to a moment.
struct PlacementRow {
  std::string tub, chamber, batch;
  Stamp from;
  std::optional<Stamp> to;  ///< nothing: it stands there still
};

/// A phase that began.
struct PhaseRow {
  std::string tub, batch, phase;
  Stamp since;
};

/// The newest act of a kind, of a tub; of none with `tub` empty.
struct ActRow {
  std::string tub;
  Stamp at;
};

struct HistoryAsk {
  std::string chamber;
  std::optional<Quantity> quantity;  ///< nothing: all
  WallTime from{}, to{};             ///< half open: [from, to)
  /// Points this far apart, each with the least, mean and greatest value; zero: every reading.
  /// Where the readings are kept no longer, what five minutes said stands instead.
  std::chrono::milliseconds width{0};
};
struct HistoryPoint {
  WallTime at{};  ///< of the reading, or the beginning of the width
  double low = 0.0, mean = 0.0, high = 0.0;
  std::uint32_t count = 1;
};
struct HistorySeries {
  std::string chamber, sensor;
  Quantity quantity = Quantity::humidity;
  std::vector<HistoryPoint> points;
};
struct History {
  std::vector<HistorySeries> series;
  std::vector<RunRow> runs;
  std::uint64_t unplaced = 0;  ///< readings of this chamber whose time was never found
  std::uint64_t damaged = 0;   ///< parts that could not be read; what they held is missing here
  bool cut = false;            ///< there were more points than kHistoryPointsMax
};
inline constexpr std::size_t kHistoryPointsMax = 200'000;

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
  /// Replaces what was learned before; best effort, no answer.
  virtual void learned(LearnedRow row) = 0;
  /// Replaces the air's book before; best effort, no answer.
  virtual void book(BookRow row) = 0;
  /// Replaces what was kept of the tub before; best effort, no answer.
  virtual void kept_now(KeptNow now) = 0;
  virtual void reading(ReadingRow row) = 0;
  virtual void decision(DecisionRow row) = 0;
  virtual void run(RunRow row) = 0;
  /// All that was handed over before is on disk when it is answered: a copy of the files holds it.
  virtual void sync(std::function<void(Outcome)> done) = 0;
  /// The wall clock has been set, or set anew: what this boot noted before is mended by it.
  virtual void clock_set(const Stamp& now) = 0;
  /// Readings and runs of a chamber. Readings come back as kept, by time within each series.
  virtual void history(HistoryAsk ask, std::function<void(Result<History>)> done) = 0;
  /// The newest `limit` decisions made before `before` (nothing: up to now), newest first; of one
  /// actuator, or of all with `actuator` empty.
  virtual void decisions(const std::string& chamber, const std::string& actuator,
                         std::optional<WallTime> before, std::size_t limit,
                         std::function<void(Result<std::vector<DecisionRow>>)> done) = 0;
  /// Where a tub stood, or all tubs of a batch, oldest first.
  virtual void placements(const std::string& tub_or_batch,
                          std::function<void(Result<std::vector<PlacementRow>>)> done) = 0;
  /// The phases of a tub, or of all tubs of a batch, oldest first.
  virtual void phases(const std::string& tub_or_batch,
                      std::function<void(Result<std::vector<PhaseRow>>)> done) = 0;
  /// The climate kept in each phase of a batch's tubs, oldest first; those that last still behind
  /// those that ended. What was taken back is left out.
  virtual void climate_kept(const std::string& batch,
                            std::function<void(Result<std::vector<KeptRow>>)> done) = 0;
  /// The time line of a batch, oldest first; at most `limit` newest rows.
  virtual void timeline(const std::string& batch, std::size_t limit,
                        std::function<void(Result<std::vector<TimelineRow>>)> done) = 0;
  /// The profile of a batch as it was last stamped into it.
  virtual void profile_of(const std::string& batch,
                          std::function<void(Result<ProfileEdited>)> done) = 0;
  /// All batches: id, profile, opened.
  virtual void batches(std::function<void(Result<std::vector<TimelineRow>>)> done) = 0;
  /// What the record knows of each tub with an open placement. Blocking; at the start only.
  virtual Result<std::vector<TubRecord>> tubs() = 0;
  /// The newest wall time of any entry made with a set clock. Blocking; at the start only.
  virtual Result<std::optional<WallTime>> newest() = 0;
  /// Alerts raised and not returned when the record was last written to: a run that was cut off
  /// leaves them. Blocking; at the start only.
  virtual Result<std::vector<AlertNoted>> standing_alerts() = 0;
  /// How the alerts stood on the desk. Blocking; at the start only.
  virtual Result<std::vector<AlertKept>> desk() = 0;
  /// Messages that were written and not delivered, oldest first. Blocking; at the start only.
  virtual Result<std::vector<NoticeWritten>> outbox() = 0;
  /// A message was delivered or given up; best effort: one that is lost is delivered once more.
  virtual void notice_done(NoticeDone done) = 0;
  /// What happened to alerts from `from` on, newest first.
  virtual void alert_rows(WallTime from, std::size_t limit,
                          std::function<void(Result<std::vector<AlertRow>>)> done) = 0;
  /// The alerts raised most often from `from` on, the most frequent first.
  virtual void alert_counts(WallTime from, std::size_t limit,
                            std::function<void(Result<std::vector<AlertCount>>)> done) = 0;
  /// Hands taken and not ended when the record was last written to. Blocking; at the start only.
  virtual Result<std::vector<HandOpen>> open_hands() = 0;
  /// What was learned, by chamber and actuator. Blocking; at the start only.
  virtual Result<std::vector<LearnedRow>> learned() = 0;
  /// The water books, by chamber. Blocking; at the start only.
  virtual Result<std::vector<BookRow>> books() = 0;
  /// All that growers noted, in the record's order. Blocking; at the start only.
  virtual Result<std::vector<GrowEntry>> grow_entries() = 0;
  /// The phases of all tubs, oldest first. Blocking; at the start only.
  virtual Result<std::vector<PhaseRow>> all_phases() = 0;
  /// The newest act that is called `what`, of each tub. Blocking; at the start only.
  virtual Result<std::vector<ActRow>> last_acts(const std::string& what) = 0;
  virtual RecordCounters counters() const = 0;
};

}  // namespace tubwarden
