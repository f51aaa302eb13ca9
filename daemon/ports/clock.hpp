// The two clocks of the board, so that a test or a rehearsal can be the clock.
// Threading: any thread. Failure: none.
#pragma once

#include <string>

#include "base/time.hpp"

namespace tubwarden {

class Clock {
 public:
  virtual ~Clock() = default;
  /// The boot clock: control, leases, timers.
  virtual Instant now() const = 0;
  /// The wall clock as it stands; may be years off.
  virtual WallTime wall() const = 0;
  /// Whether the wall clock can be believed (set by the network or a battery clock).
  virtual bool wall_is_set() const = 0;
  /// Names this boot of the board, so that boot instants of another boot are not compared.
  virtual std::string boot_id() const = 0;
  /// Local second of the day, 0..86399, by the wall clock and the site's time zone.
  virtual int local_second_of_day() const = 0;
  /// How long from now local time runs evenly: until the zone's next change of its offset, as
  /// daylight saving makes one, and at most an hour.
  virtual Duration local_time_holds() const { return hours(1); }
};

}  // namespace tubwarden
