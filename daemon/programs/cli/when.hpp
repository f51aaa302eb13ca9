// A moment as a person writes it: 14:30, 2026-11-24 14:30, an age like 2h, or RFC 3339.
// Threading: pure functions. Failure: an error that names what is allowed; an hour that came twice
// is the first one, and said.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden::cli {

/// How far the reader's clock is east of UTC at a moment.
using Zone = Duration (*)(WallTime);

struct When {
  WallTime at{};
  std::string note;  ///< what had to be chosen, as a sentence; empty: nothing
};

/// `HH:MM[:SS]`: the last time it was that, today or yesterday. `YYYY-MM-DD[ HH:MM[:SS]]`: by the
/// reader's clock. `2h`, `1d 6h`: so long ago. `now`. RFC 3339: with its own offset.
Result<When> parse_when(std::string_view text, WallTime now, Zone zone);

}  // namespace tubwarden::cli
