// By how much the wall clock is ahead of the boot clock, in milliseconds, as both files keep it.
// Threading: pure functions. Failure: none.
#pragma once

#include <algorithm>
#include <cstdint>

#include "base/stamp.hpp"

namespace tubwarden {

constexpr std::int64_t ms_of(WallTime t) { return t.time_since_epoch().count(); }
constexpr std::int64_t ms_of(Duration d) { return duration_cast<milliseconds>(d).count(); }
constexpr std::int64_t ms_of(Instant t) { return ms_of(t.time_since_epoch()); }

inline std::int64_t offset_of(const Stamp& stamp) { return ms_of(stamp.wall) - ms_of(stamp.boot); }

/// Two offsets that tell of the same setting of the clock: both clocks are read, and not at once.
constexpr bool same_clock(std::int64_t offset_ms, std::int64_t other_ms) {
  constexpr std::int64_t kSameWithinMs = 1000;
  return offset_ms - other_ms <= kSameWithinMs && other_ms - offset_ms <= kSameWithinMs;
}

/// A question's time on the boot clock; the ends of time stay there.
constexpr std::int64_t boot_ms(WallTime t, std::int64_t offset_ms) {
  constexpr std::int64_t kEndOfTimeMs = INT64_MAX / 4;
  return std::clamp(ms_of(t), -kEndOfTimeMs, kEndOfTimeMs) - offset_ms;
}

}  // namespace tubwarden
