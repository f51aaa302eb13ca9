// A moment on both clocks: the wall clock for people, the boot clock for what really passed.
// Threading: plain values. Failure: none.
#pragma once

#include <string>

#include "base/time.hpp"

namespace tubwarden {

struct Stamp {
  WallTime wall{};
  bool wall_set = false;  ///< false: made before the clock was set, to be mended
  std::string boot_id;
  Instant boot{};
};

}  // namespace tubwarden
