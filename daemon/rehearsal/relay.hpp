// A relay behind the broker, as bought: it takes its two payloads, and where it has a timer of its
// own it falls to its safe level when "run" is not repeated in time.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden::rehearsal {

class Relay {
 public:
  Relay(Level safe, std::optional<Duration> falls_after)
      : safe_(safe), falls_after_(falls_after), level_(safe) {}

  void heard(Level level, Instant now) {
    level_ = level;
    falls_at_.reset();
    if (falls_after_ && level != safe_) falls_at_ = now + *falls_after_;
  }
  /// Whether its timer has run out; then it has fallen.
  bool falls(Instant now) {
    if (!falls_at_ || now < *falls_at_) return false;
    level_ = safe_;
    falls_at_.reset();
    return true;
  }
  std::optional<Instant> falls_at() const { return falls_at_; }
  Level level() const { return level_; }

 private:
  Level safe_;
  std::optional<Duration> falls_after_;
  Level level_;
  std::optional<Instant> falls_at_;
};

}  // namespace tubwarden::rehearsal
