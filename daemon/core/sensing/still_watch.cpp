#include "core/sensing/still_watch.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

/// Numbers that went through a unit or a calibration differ in their last digits.
constexpr double kSame = 1e-6;

/// A run the other way that reaches into this one's time may have undone it.
bool undone(std::span<const Push> pushes, const Push& push, Duration watch) {
  return std::any_of(pushes.begin(), pushes.end(), [&](const Push& other) {
    return other.quantity == push.quantity && (other.amount > 0) != (push.amount > 0) &&
           other.to + watch >= push.from && other.from <= push.to + watch;
  });
}

}  // namespace

void StillWatch::reading(double value, Instant taken) {
  newest_ = taken;
  if (since_ && std::abs(value - value_) <= kSame * std::max(1.0, std::abs(value_))) {
    ++readings_;
    return;
  }
  if (since_) {
    const double change = std::abs(value - value_);
    smallest_ = smallest_ ? std::min(*smallest_, change) : change;
  }
  since_ = taken;
  value_ = value;
  readings_ = 1;
}

double StillWatch::quantum(std::optional<double> step, double usual) const {
  return step ? *step : smallest_.value_or(usual);
}

bool StillWatch::stuck(std::span<const Push> pushes, Quantity quantity, std::optional<double> step,
                       double usual, bool speaks_on_change, Instant now) const {
  if (!since_) return false;
  const Duration watch = watch_after_run(quantity);
  const double least = kStuckQuanta * quantum(step, usual);
  return std::any_of(pushes.begin(), pushes.end(), [&](const Push& push) {
    if (push.quantity != quantity || push.from < *since_ || now < push.to + watch) return false;
    if (!speaks_on_change &&
        (newest_ < push.to + watch / 2 || readings_ < static_cast<std::uint32_t>(kStuckReadings))) {
      return false;
    }
    return std::abs(push.amount) >= least && !undone(pushes, push, watch);
  });
}

}  // namespace tubwarden
