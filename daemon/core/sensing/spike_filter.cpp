#include "core/sensing/spike_filter.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

bool within(const SpikeFilter::Held& before, double value, Instant taken,
            const SpikeLimits& limits) {
  const double minutes_between = std::max(0.0, seconds_of(taken - before.taken) / 60.0);
  return std::abs(value - before.value) <= limits.jump + limits.fastest_minute * minutes_between;
}

}  // namespace

SpikeFilter::Verdict SpikeFilter::judge(double value, Instant taken, bool usable,
                                        const SpikeLimits& limits) {
  const bool near_last = !last_ || !usable || within(*last_, value, taken, limits);
  // Two in a row on the same side are no spike: the air moves faster than was thought.
  const bool same_side =
      held_ && last_ && (value - last_->value) * (held_->value - last_->value) > 0.0;
  const bool near_held = held_ && (same_side || within(*held_, value, taken, limits));
  if (held_ && !near_held) ++dropped_;
  if (near_last || near_held) {
    last_ = Held{value, taken};
    held_.reset();
    held_in_a_row_ = 0;
    return Verdict::taken;
  }
  held_ = Held{value, taken};
  held_in_a_row_ = std::min(held_in_a_row_ + 1, kJumpingAfter);
  return Verdict::held;
}

std::optional<SpikeFilter::Held> SpikeFilter::confirmed_by_silence(Duration patience, Instant now) {
  if (!held_ || now < held_->taken + patience) return std::nullopt;
  last_ = *held_;
  held_.reset();
  held_in_a_row_ = 0;
  return last_;
}

std::optional<Instant> SpikeFilter::silence_until(Duration patience) const {
  if (!held_) return std::nullopt;
  return held_->taken + patience;
}

void SpikeFilter::forget() {
  last_.reset();
  held_.reset();
  held_in_a_row_ = 0;
}

}  // namespace tubwarden
