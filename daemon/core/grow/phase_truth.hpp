// Phase truth: the record says in which phase a tub is; a file's value is an event only when it
// differs from the last value seen in that file. And the time a phase has lasted, whatever the
// clocks did. Threading: pure functions. Failure: none; what cannot be decided is asked of the
// grower.
#pragma once

#include <optional>
#include <string>

#include "base/stamp.hpp"

namespace tubwarden {

/// What the record knows of a tub's phase.
struct PhaseKnown {
  std::string batch;
  std::string phase;
  std::optional<std::string> file_seen;  ///< the last value seen in the tub's file
  std::string previous_phase;            ///< empty: this is the first
  Duration since_change{0};              ///< how long ago the phase last changed
};

/// What the tub's file says now.
struct FileSays {
  std::string batch;
  std::string phase;
};

enum class PhaseVerdict {
  unconfirmed,    ///< no record: safe until somebody says the phase
  batch_changed,  ///< the file names another batch: the old placement ends, the phase is asked for
  nothing,        ///< the file has not changed
  seen,           ///< the file has caught up with a command: remember it, change nothing
  ask,            ///< first seen against an existing batch, and it disagrees: ask, do not switch
  change,         ///< the grower edited the line: the tub changes phase
  correction,     ///< edited back within two minutes: the change before is taken back
};

/// An edit taken back within this is a slip, not two phases.
inline constexpr Duration kCorrectionWindow = minutes(2);

PhaseVerdict judge_file(const std::optional<PhaseKnown>& known, const FileSays& file);

/// Whether a wish for `phase` (by file or command) takes the last change back.
bool takes_back(const PhaseKnown& known, const std::string& phase);

/// How long a phase has lasted at `now`, from a mark at which it had lasted `elapsed`. On the same
/// boot by the boot clock; across boots by the wall clock when it was set at both ends and did not
/// run backwards; else at least the time since this boot is known to have passed.
Duration elapsed_at(const Stamp& mark, Duration elapsed, const Stamp& now);

}  // namespace tubwarden
