// The limits of one actuator, with the last word over any decision: shortest and longest run,
// shortest rest, starts an hour. Threading: one owner, plain values. Failure: none; a wish that is
// not granted names its lock.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"

namespace tubwarden {

/// Which limit stands between the wish and what is done.
enum class Lock { none, shortest_run, shortest_rest, longest_run, starts_per_hour };

class RunGate {
 public:
  /// More starts an hour than this no limit allows; what a limit counts is kept up to here.
  static constexpr int kStartsPerHourMax = 240;
  /// After a longest run there is a rest of at least this: without one it would be no limit.
  static constexpr Duration kRestAfterLongest = seconds(1);

  struct Granted {
    bool run = false;
    Lock lock = Lock::none;
    std::optional<Instant> until;  ///< when the lock falls
  };

  /// A start of the daemon counts as a stop just now.
  RunGate(RunLimits limits, Instant now) : limits_(limits), since_(now) {}

  /// What becomes of a wish. `yields`: a run in its shortest run may be cut (the air is at its far
  /// edge).
  Granted ask(bool wanted, bool yields, Instant now);
  /// Past all limits: the safe level, or a driver that lost its output. Counts as a stop or start
  /// just now.
  void force(bool runs, Instant now);
  void limits(RunLimits limits) { limits_ = limits; }

  bool running() const { return running_; }
  Instant since() const { return since_; }
  int starts_last_hour(Instant now) const;

 private:
  void begin(Instant now);
  Duration rest_now() const;
  std::optional<Instant> start_limit_until(Instant now) const;

  RunLimits limits_;
  bool running_ = false;
  bool after_longest_ = false;  ///< the last run ended by its longest
  Instant since_{};
  std::array<Instant, kStartsPerHourMax> starts_{};
  std::size_t start_count_ = 0;  ///< starts ever; the newest kStartsPerHourMax are kept
};

}  // namespace tubwarden
