// The board's two clocks. The wall clock is believed from a floor on: a board without a battery
// clock starts years before it. (The kernel's own word for "synchronised" says nothing inside a
// container, so it is not asked.) A board that restores the time of its last shutdown passes the
// floor and is believed, though it may be late by the time it was off.
// Threading: any thread. Failure: none; a clock that cannot be read is a bug and stops the program.
#pragma once

#include <atomic>
#include <string>

#include "base/time.hpp"
#include "ports/clock.hpp"

namespace tubwarden {

/// No wall time before this can be right: the program was written later (2026-01-01 UTC).
inline constexpr WallTime kNotBefore{milliseconds(1767225600000)};
/// A clock corrected backwards by less than this stays believed.
inline constexpr Duration kFloorSlack = minutes(10);

/// Of any wall time in the board's zone, what the two members of the same names say of now.
int local_second_of_day(WallTime at);
Duration local_time_holds(WallTime at);

class BoardClock final : public Clock {
 public:
  explicit BoardClock(WallTime floor = kNotBefore);
  /// Lifts the floor, e.g. to the newest entry of the record; never lowers it.
  void raise_floor(WallTime floor);

  Instant now() const override;  ///< CLOCK_BOOTTIME
  WallTime wall() const override;
  bool wall_is_set() const override;
  std::string boot_id() const override;
  int local_second_of_day() const override;
  Duration local_time_holds() const override;

 private:
  std::atomic<WallTime::rep> floor_ms_;
  std::string boot_id_;
};

}  // namespace tubwarden
