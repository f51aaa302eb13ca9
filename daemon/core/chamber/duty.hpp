// What a chamber knows of its substrate's temperature where a heater or cooler keeps it by a slow
// duty. Private to core/chamber. Threading: one owner. Failure: none.
#pragma once

#include <map>
#include <string>

#include "base/time.hpp"
#include "core/climate/slow_duty.hpp"

namespace tubwarden {

struct Duties {
  SlowDuty law;
  std::map<std::string, DutyCycle> cycles;  ///< by actuator
  double told = 0.0;                        ///< of what is held, K/h: last told for the record
  Instant told_at{};
  Instant attended{};  ///< when hands were last in the tub
};

}  // namespace tubwarden
