// The time of one output: when its run is over, when its loan is over, which command is too old.
// Threading: one owner, plain values. Failure: none; what comes too late is dropped and counted.
#pragma once

#include <cstdint>
#include <optional>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

/// What the host is to do with its driver now.
struct OutputAction {
  enum class Kind {
    none,
    apply,      ///< set `level`
    rest,       ///< the run is over: set level 0
    make_safe,  ///< nobody answers for the output any more: set its safe level
  };
  Kind kind = Kind::none;
  Level level = kRest;
  Duration run_left{0};  ///< of a timed run; 0: it holds
  Duration lease_left{0};
  std::uint64_t sequence = 0;
  bool lease_over = false;  ///< make_safe because the lease ran out
};

/// An output is either on loan (a command with a lease holds it) or at its safe level. It starts
/// safe, and only a command newer than every one before it puts it on loan.
class OutputClock {
 public:
  struct Counters {
    std::uint64_t stale = 0;   ///< commands and renewals older than one already heard
    std::uint64_t lapsed = 0;  ///< leases that ran out
  };

  /// `repeat` is the time within which a level other than rest is set again, for an output that
  /// falls by itself; zero: never.
  explicit OutputClock(Level safe, Duration repeat = Duration{0});

  /// A command. `run` 0 holds the level while leased; a run of level 0 is a rest. A lease that is
  /// not positive, and a sequence not above the last one, are dropped.
  OutputAction apply(Level level, Duration run, Duration lease, std::uint64_t sequence,
                     Instant now);

  /// Prolongs the loan of exactly that command to now + lease; false when it is not on loan, or
  /// when it was another one. A lease that has run out is not brought back, even if no tick saw its
  /// end.
  bool renew(Duration lease, std::uint64_t sequence, Instant now);

  /// What has come due. At the end of a run the output rests and stays on loan; at the end of a
  /// lease it is made safe; when both are over, safe wins.
  OutputAction tick(Instant now);

  /// The driver lost its output and has it again: the held level once more if still on loan, else
  /// safe. A timed run that was interrupted is over: a portion is not given twice.
  OutputAction again(Instant now);

  /// The command could not be carried out, or the output is to be safe at once: the loan ends. The
  /// caller makes it safe.
  void fall(Instant now);

  /// The command of the moment once more, as it stands; nothing changes.
  OutputAction standing(Instant now) const {
    return action(on_loan_ ? OutputAction::Kind::apply : OutputAction::Kind::make_safe, now);
  }

  /// When tick() must be called; nothing while nothing can come due.
  std::optional<Instant> next_wake() const;

  bool on_loan() const { return on_loan_; }
  /// What the output should show now.
  Level level() const { return on_loan_ ? level_ : safe_; }
  std::uint64_t sequence() const { return sequence_; }
  const Counters& counters() const { return counters_; }

 private:
  OutputAction action(OutputAction::Kind kind, Instant now) const;
  void plan_repeat(Instant now);

  Level safe_;
  Duration repeat_;
  bool on_loan_ = false;
  Level level_ = kRest;
  std::uint64_t sequence_ = 0;
  Instant lease_end_{};
  std::optional<Instant> run_end_;
  std::optional<Instant> repeat_at_;
  Counters counters_;
};

}  // namespace tubwarden
