// Whether an output's own word agrees with what it was told. Threading: one owner, plain values.
// Failure: none.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

/// The clock of one output's confirmations. A command, and the rest at the end of its run, each
/// want an answer; while one is unanswered, further commands do not put the deadline off.
class Confirmation {
 public:
  static constexpr Duration kLimit = seconds(5);

  /// `run` 0: the level holds.
  void commanded(Level level, Duration run, Instant now);
  /// The output's word. One that disagrees starts the clock, too: a hand may have switched it.
  void heard(Level level, Instant now);
  /// The loan ended and the output stands at `safe`.
  void fell(Level safe, Instant now);
  /// Nothing is expected until the next command (the host is new, or gone).
  void forget();

  /// Whether an answer is overdue.
  bool overdue(Instant now) const { return deadline_ && *deadline_ <= now; }
  /// When overdue() turns true or what is expected changes; nothing while nothing is awaited.
  std::optional<Instant> due() const { return deadline_; }
  std::optional<Level> last() const { return last_; }

 private:
  Level expected(Instant now) const;

  std::optional<Level> last_;
  std::optional<Level> told_;
  std::optional<Instant> run_end_;
  std::optional<Instant> deadline_;
};

}  // namespace tubwarden
