// An alert and its life: a condition that holds past its on-delay is raised once, and returns once.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

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
  Instant raised{};
};

/// A raise or a return, to be told and recorded.
struct AlertChange {
  Alert alert;
  bool raised = true;
};

/// All alerts of one owner. One occurrence of a condition raises once and returns once.
class AlertBook {
 public:
  /// How a condition stands now. `delay` is the on-delay; the off-delay is the book's own.
  struct Condition {
    bool holds = false;
    Duration on_delay{0};
    Duration off_delay{0};
    AlertRank rank = AlertRank::today;
    std::string text;
  };

  /// Tells the book how a condition stands. Returns a change when one is due now.
  std::optional<AlertChange> judge(const AlertKey& key, const Condition& condition, Instant now);
  /// The condition can no longer be judged (its phase or sensor is gone): a raised one returns.
  std::optional<AlertChange> withdraw(const AlertKey& key, Instant now);
  /// When judge() must be asked again though nothing happened; nothing when no delay is running.
  std::optional<Instant> next_wake() const;
  /// Those raised and not returned, by key.
  std::vector<Alert> standing() const;

 private:
  struct State {
    bool holding = false;
    bool raised = false;
    Instant changed{};  ///< when `holding` last changed
    std::optional<Instant> due;
    Alert alert;
  };
  std::map<AlertKey, State> states_;
};

}  // namespace tubwarden
