// A planned grow, played: each air's world run to its end, and what came of it.
// Threading: pure; airs share nothing, each may be played on a thread of its own. Failure: a rule
// that the control broke is kept as a sentence, and the air's play ends there.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "rehearsal/chronicle.hpp"
#include "rehearsal/grow.hpp"

namespace tubwarden::rehearsal {

struct PlayedAir {
  ChamberPlan chamber;
  std::vector<TubTally> tubs;       ///< the leader first
  std::vector<std::string> broken;  ///< what the watch saw broken; empty in a sound program
  std::uint64_t turns = 0;          ///< of the chamber's step()
  Duration passed{0};
};

/// Told after each day, with what has passed; false ends the play there.
using EachDay = std::function<bool(Duration passed)>;

PlayedAir play_air(const GrowAir& air, Duration length, const EachDay& each_day = {},
                   Observer* also = nullptr);

}  // namespace tubwarden::rehearsal
