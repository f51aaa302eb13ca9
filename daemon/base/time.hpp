// Time as a value: instants of the boot clock for control, wall times for records.
// Threading: plain values. Failure: none; neither clock has a now(), reading one is the shell's
// job.
#pragma once

#include <chrono>
#include <cstdint>

namespace tubwarden {

/// The boot clock: never jumps, counts through suspend, starts near 0 when the board starts.
struct BootClock {
  using rep = std::int64_t;
  using period = std::nano;
  using duration = std::chrono::duration<rep, period>;
  using time_point = std::chrono::time_point<BootClock>;
  static constexpr bool is_steady = true;
};

/// The wall clock, milliseconds since 1970 UTC: may be unset, may jump, never used for control.
struct WallClock {
  using rep = std::int64_t;
  using period = std::milli;
  using duration = std::chrono::duration<rep, period>;
  using time_point = std::chrono::time_point<WallClock>;
  static constexpr bool is_steady = false;
};

using Duration = BootClock::duration;
using Instant = BootClock::time_point;
using WallTime = WallClock::time_point;

using std::chrono::duration_cast;
using std::chrono::hours;
using std::chrono::milliseconds;
using std::chrono::minutes;
using std::chrono::seconds;
using days = std::chrono::duration<std::int64_t, std::ratio<86400>>;

/// A duration in (fractional) seconds.
constexpr double seconds_of(Duration d) { return std::chrono::duration<double>(d).count(); }

/// Fractional seconds as a duration, rounded towards zero.
constexpr Duration from_seconds(double s) {
  return duration_cast<Duration>(std::chrono::duration<double>(s));
}

}  // namespace tubwarden
