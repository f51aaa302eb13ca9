// Whether a phase is over by its plan: so long, and so long without a gap beyond the limits that
// its plan names. Threading: one owner, plain values. Failure: none; what is not read is not over.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/climate/phase_plan.hpp"

namespace tubwarden {

/// Nobody looked for longer than this: a gap, whatever was read before and after it.
inline constexpr Duration kNextGap = minutes(10);

class NextWatch {
 public:
  /// Usable now; a sensor at the top of its range is known to be over it, never under anything.
  struct Value {
    double value = 0.0;
    bool at_least = false;
  };
  using Values = std::array<std::optional<Value>, kQuantities>;

  struct Verdict {
    bool due = false;                  ///< once due, until forget()
    std::optional<Instant> ask_again;  ///< when that may change though nothing happens
  };
  Verdict judge(const NextPlan& plan, Instant phase_began, const Values& values, Instant now);
  /// Another phase, or another plan.
  void forget() { *this = NextWatch{}; }
  /// What was read says nothing of the phase (hands in the tub): times begin anew.
  void interrupt() { holding_ = {}; }

 private:
  std::array<std::optional<Instant>, kQuantities> holding_{};  ///< since when it holds
  Instant judged_{};
  bool due_ = false;
};

/// "it has lasted 14d, and its substrate temperature has been below 18 C for 12h".
std::string told(const NextPlan& plan, Duration lasted);

}  // namespace tubwarden
