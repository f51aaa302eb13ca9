// When a message that was not delivered is tried again, and when it is given up.
// Threading: pure functions. Failure: none.
#pragma once

#include <algorithm>

#include "base/time.hpp"

namespace tubwarden {

inline constexpr Duration kRetryFirst = seconds(1);
inline constexpr Duration kRetryMost = minutes(15);
/// A message older than this is given up.
inline constexpr Duration kRetryFor = hours(24);
/// So many failures in a row are told by the other channels.
inline constexpr int kFailuresTold = 3;

/// The pause after so many failures in a row, from 1: doubles, up to the most.
constexpr Duration retry_pause(int failures) {
  const int doublings = std::clamp(failures - 1, 0, 20);
  return std::min<Duration>(kRetryFirst * (1 << doublings), kRetryMost);
}

}  // namespace tubwarden
