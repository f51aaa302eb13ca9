// What is due today: derived from the record and the plan each time somebody asks, never stored.
// Threading: pure functions. Failure: none.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/ledger/grow_book.hpp"

namespace tubwarden {

enum class TaskKind {
  isolate,  ///< a contaminated jar is still in the house
  look,
  shake,
  mix,      ///< a jar is grown through
  overdue,  ///< a jar is not, and should be
  phase,    ///< a tub may be ready for its next phase
  water,
  pick,
  clean,
  refill,
  upkeep,
  off,  ///< an alert is off while somebody mends something
};
std::string_view name_of(TaskKind kind);

struct Task {
  TaskKind kind = TaskKind::look;
  std::vector<std::string> of;  ///< jars of one batch, or one tub, mister, sensor
  std::string batch;
  std::optional<WallTime> due;  ///< since when; nothing: since nobody knows when
  bool late = false;
  std::string text;     ///< one sentence
  std::string command;  ///< which does it, or writes that it was done; empty: none
};

/// How long something is expected to take.
struct TaskWindow {
  Duration from{0}, to{0}, late{0};  ///< zero: not said
};
/// Grain takes two to three weeks, up to a month (common practice, no source).
inline constexpr TaskWindow kGrainUsual{days(14), days(21), days(30)};

/// A tub's phase by the record.
struct PhaseNow {
  std::string tub, batch, phase;
  Duration elapsed{0};
  TaskWindow expected;
  std::string next;  ///< by the profile; empty: none
};
/// Something that comes round again.
struct Upkeep {
  std::string what;  ///< the word that `done` takes: "recalibrated", "drilled", "cleaned"
  std::string of;
  std::string text;  ///< "recalibrate the sensor air of tub-1"
  Duration every{0};
  std::optional<WallTime> last;  ///< nothing: never, as far as anybody knows
  std::string command;
};
/// What a forecast says of a jar.
struct JarForeseen {
  std::optional<WallTime> shake_from, shake_to, full;
};

struct TaskFacts {
  WallTime now{};
  std::map<std::string, TaskWindow> grain;  ///< by batch; one that is missing takes kGrainUsual
  std::vector<PhaseNow> phases;
  std::map<std::string, JarForeseen> jars;  ///< by id
  std::map<BedKey, WallTime> first_picks;   ///< of the flush that has pins
  std::vector<Upkeep> upkeep;
  std::vector<Task> more;  ///< what only the air knows: water due, tanks low, alerts off
};

/// Late ones first, then by kind in the order above, then by id. Jars of one batch that ask for the
/// same stand in one task.
std::vector<Task> tasks(const GrowBook& book, const TaskFacts& facts);

/// "J-1..J-4 J-9", for a command.
std::string listed(const std::vector<std::string>& ids);

}  // namespace tubwarden
