// An alert and its life: a condition that holds past its on-delay is raised once, and returns once.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <compare>
#include <optional>
#include <string>
#include <string_view>

#include "base/time.hpp"

namespace tubwarden {

enum class AlertRank { now, today, noted };
std::string_view name_of(AlertRank rank);
std::optional<AlertRank> rank_named(std::string_view name);

struct AlertKey {
  std::string place;  ///< a tub, a chamber, or "site"
  std::string cause;  ///< "humidity_low", "sensor_air_stale", "broker_lost", ...
  auto operator<=>(const AlertKey&) const = default;
};

struct Alert {
  AlertKey key;
  AlertRank rank = AlertRank::today;
  std::string text;  ///< what, the value and the limit, what to do
  Instant since{};   ///< when the condition began to hold, before the delay
  bool operator==(const Alert&) const = default;
};

/// A raise or a return, to be told and recorded.
struct AlertChange {
  Alert alert;
  bool raised = true;
};

/// Whether a value lies beyond its limit. A raised alert holds until the value is back inside by
/// the deadband, so that one which plays about the limit is told once.
constexpr bool beyond(double value, double limit, bool low, double deadband, bool raised) {
  if (low) return value < (raised ? limit + deadband : limit);
  return value > (raised ? limit - deadband : limit);
}

/// The clock of one alert. One occurrence of its condition raises once and returns once.
class AlertTimer {
 public:
  enum class Change { none, raised, returned };

  /// Tells how the condition stands now: raised once it has held for `on_delay`, returned once it
  /// has not held for `off_delay`.
  Change judge(bool holds, Duration on_delay, Duration off_delay, Instant now);
  /// The condition can no longer be judged (its phase or part is gone): a raised one returns at
  /// once.
  Change withdraw() {
    if (!holds_ && !raised_) return Change::none;
    const bool was = raised_;
    *this = AlertTimer{};
    return was ? Change::returned : Change::none;
  }

  bool raised() const { return raised_; }
  /// When the condition began to hold; meaningful while it holds or stands raised.
  Instant since() const { return since_; }
  /// When judge() must be asked again though nothing happens; nothing when no delay is running.
  std::optional<Instant> due() const { return due_; }

 private:
  bool holds_ = false;
  bool raised_ = false;
  Instant since_{};
  Instant changed_{};
  std::optional<Instant> due_;
};

}  // namespace tubwarden
