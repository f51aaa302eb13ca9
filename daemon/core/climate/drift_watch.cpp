#include "core/climate/drift_watch.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {

bool DriftWatch::reading(double value, Instant now) {
  if (!std::isfinite(value)) return false;
  bool whole = false;
  if (readings_ == 0 || now < slot_begun_ || now >= slot_begun_ + 2 * slot()) {
    forget();
    slot_begun_ = now;
    sum_ = 0.0;
  } else if (now >= slot_begun_ + slot()) {
    std::rotate(means_.begin(), means_.begin() + 1, means_.end());
    means_.back() = sum_ / static_cast<double>(readings_);
    count_ = std::min(count_ + 1, kSlots);
    slot_begun_ += slot();
    sum_ = 0.0;
    readings_ = 0;
    whole = true;
  }
  sum_ += value;
  ++readings_;
  return whole;
}

std::optional<double> DriftWatch::drift(double least) const {
  if (count_ < kSlots) return std::nullopt;
  const double first = quarter(1) - quarter(0);
  const double second = quarter(2) - quarter(1);
  const double last = quarter(3) - quarter(2);
  const double sign = first + second + last > 0.0 ? 1.0 : -1.0;
  if (sign * first <= 0.0 || sign * second <= 0.0) return std::nullopt;
  if (sign * last < kGoesOn * sign * (first + second) / 2.0) return std::nullopt;
  if (sign * (first + second + last) < least) return std::nullopt;
  // From the middle of the first quarter to that of the last.
  return (first + second + last) / (0.75 * seconds_of(window_));
}

std::optional<Instant> DriftWatch::reaches(double edge, double least) const {
  const auto speed = drift(least);
  if (!speed) return std::nullopt;
  const double left_s = (edge - means_.back()) / *speed;
  if (left_s <= 0.0 || left_s > kAhead * seconds_of(window_)) return std::nullopt;
  return slot_begun_ - slot() / 2 + from_seconds(left_s);
}

}  // namespace tubwarden
