// The grow as it stands: cultures, runs, jars, mixes and beds, made from the record's acts in
// order. Threading: one owner, plain values. Failure: an act that cannot be true is refused with
// the way out; what an applied act says of things that are not there is passed over.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "core/ledger/grow_act.hpp"

namespace tubwarden {

struct Culture {
  std::string id, strain, source;
  double millilitres = 0.0, used_ml = 0.0;
  WallTime received{};
  std::optional<WallTime> opened, discarded;
  double left_ml() const { return millilitres - used_ml; }
};

struct SterilisingRun {
  std::string id, what;
  WallTime at{};
  Duration hold{0};
  std::optional<double> gauge_kpa, f0_minutes;
};

struct JarLook {
  WallTime at{};
  double grown_pct = 0.0;
};
enum class JarFate { standing, mixed, contaminated, discarded };
struct Jar {
  std::string id, batch, grain, run, culture, shelf;
  double dose_ml = 0.0;
  std::optional<double> fill_g;
  bool vented = true;
  WallTime added{};
  std::optional<WallTime> inoculated;
  std::vector<JarLook> looks;    ///< oldest first
  std::vector<WallTime> shaken;  ///< oldest first
  struct Stay {
    WallTime from{};
    std::string shelf;
  };
  std::vector<Stay> stays;  ///< where it stood, oldest first
  JarFate fate = JarFate::standing;
  std::optional<WallTime> contaminated;  ///< stays when the jar was discarded afterwards
  WallTime fate_at{};
  std::string fate_text;             ///< what was seen, or why
  std::string into_tub, into_batch;  ///< the tub and the batch that it was mixed into

  bool stands() const { return fate == JarFate::standing; }
};

struct Mix {
  std::string id, of;
  WallTime at{};
  double dry_kg = 0.0, water_kg = 0.0;
};

struct Pick {
  WallTime at{};
  double grams = 0.0;
  std::optional<double> count;
};
struct Flush {
  int number = 1;
  std::optional<WallTime> pins;
  double pin_mm = 0.0;  ///< the largest then
  std::vector<Pick> picks;
  std::optional<WallTime> cleaned;
  int stay = 0;  ///< which stay in fruiting its picks are of
  double grams() const;
};
struct PhaseSpan {
  std::string phase;
  WallTime from{};
  bool cropping = false;
  int flush = 0;  ///< stays in fruiting that have begun; 0: none yet, or to be counted
};
/// A batch in a tub.
struct Bed {
  std::string tub, batch;
  std::optional<WallTime> spawned, cased, contaminated;
  std::vector<std::string> jars;
  std::string mix, contamination;
  double substrate_kg = 0.0;
  std::optional<double> dry_kg, surface_m2, casing_mm;
  std::vector<PhaseSpan> phases;
  std::vector<Flush> flushes;
  double grams() const;
  const PhaseSpan* phase_at(WallTime at) const;
};
using BedKey = std::pair<std::string, std::string>;  ///< tub, batch

/// What the configuration knows, for a judgement.
struct GrowSite {
  std::vector<std::string> tubs, shelves;
};

/// All that stands, by id.
struct GrowState {
  std::map<std::string, Culture> cultures;
  std::map<std::string, SterilisingRun> runs;
  std::map<std::string, Jar> jars;
  std::map<std::string, Mix> mixes;
  std::map<BedKey, Bed> beds;
  std::map<std::string, WallTime> upkeep;  ///< when last, by "what of"
};

class GrowBook {
 public:
  /// Whether the act can be true, done at `at`. Refused: overdrawn cultures, jars that are mixed
  /// twice, a harvest before fruiting, dates in the future or before what it builds on, unknown or
  /// taken ids, amounts out of range. The error says the way out.
  Outcome judge(const GrowAct& act, WallTime at, WallTime now, const GrowSite& site) const;
  /// Takes an entry in, which was judged or comes from the record. Answers its place among
  /// entries().
  std::size_t apply(GrowEntry entry);
  /// An entry got its id from the record.
  void on_disk(std::size_t place, std::int64_t entry);
  /// The record could not keep it: the book is as if it had never been.
  void drop(std::size_t place);
  /// A phase began, by the record; oldest first. Not an act of this book.
  void phase(const std::string& tub, const std::string& batch, PhaseSpan span);

  /// The newest act that `undo last` would take back: nothing when there is none.
  const GrowEntry* last() const;
  const GrowEntry* find(std::int64_t entry) const;
  bool is_undone(std::int64_t entry) const { return undone_.contains(entry); }
  /// Whether the entry at this place of entries() still holds.
  bool stands(std::size_t place) const;

  /// All in the order of the record, undone ones too.
  const std::vector<GrowEntry>& entries() const { return entries_; }
  const std::map<std::string, Culture>& cultures() const { return state_.cultures; }
  const std::map<std::string, SterilisingRun>& runs() const { return state_.runs; }
  const std::map<std::string, Jar>& jars() const { return state_.jars; }
  const std::map<std::string, Mix>& mixes() const { return state_.mixes; }
  const std::map<BedKey, Bed>& beds() const { return state_.beds; }
  const std::map<std::string, WallTime>& upkeep() const { return state_.upkeep; }
  const Jar* jar(const std::string& id) const;
  const Bed* bed(const std::string& tub, const std::string& batch) const;
  /// Batches that a jar or a bed names, by id.
  std::vector<std::string> batches() const;
  /// Ids for `count` new jars: "J-18", counted on from the highest there is, undone ones too.
  std::vector<std::string> next_jars(std::size_t count) const;

 private:
  struct Told {
    std::string tub, batch;
    PhaseSpan span;
  };
  Outcome judge_undo(const Undone& undo, WallTime now, const GrowSite& site) const;
  void rebuild();
  static void take(GrowState& state, const GrowEntry& entry);
  static void take(GrowState& state, const Told& told);

  std::vector<GrowEntry> entries_;
  std::set<std::int64_t> undone_;  ///< entries taken back by another
  std::set<std::size_t> dropped_;  ///< places of what the record could not keep
  std::vector<Told> phases_;
  GrowState state_;
  std::int64_t highest_jar_ = 0;
};

}  // namespace tubwarden
