// Time proportioning: an output that knows only run and rest, given a level between, runs for that
// share of each period. Threading: one owner, plain values. Failure: none.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

/// What a period cannot give, because it would be shorter than the shortest run (or leave a
/// shorter rest), is owed to the next one, so that the share holds over many. A changed level
/// changes the period that goes on and starts no new one.
class Proportion {
 public:
  /// `shortest_run` is the shortest rest as well; at most half of `period`, which is above 0.
  Proportion(Duration period, Duration shortest_run);

  /// The level to switch now for `asked`. Rest and full are switched as they are, and end what is
  /// owed. `run_left` is of a timed run, 0: it holds; it is given its share within its own length
  /// where that is shorter than a period. The same level asked again changes nothing.
  Level ask(Level asked, Duration run_left, Instant now);

  /// The level to switch now, when it is another one.
  std::optional<Level> tick(Instant now);

  /// When tick() must be called; nothing while nothing can change.
  std::optional<Instant> next_wake() const;

  Level asked() const { return asked_; }
  bool between() const { return asked_ != kRest && asked_ != kRun; }
  /// What is switched now.
  Level shown() const { return shown_; }

 private:
  void begin(Instant now);
  void show(Level level, Instant now);
  /// Books the time since the last call, as asked and as given.
  void count(Instant now);
  /// When the run of this period ends; nothing when it goes on into the next.
  std::optional<Instant> rest_at() const;

  Duration period_;
  Duration shortest_;
  Level asked_ = kRest;
  Level shown_ = kRest;
  Instant counted_{};  ///< up to when `owed_` is counted
  Instant changed_{};  ///< since when `shown_` stands
  Instant period_end_{};
  std::optional<Instant> run_end_;
  Duration owed_{0};  ///< asked minus given, of full running; at most a period either way
};

}  // namespace tubwarden
