// The loop of flushes: which phases of a profile belong to it, and how many times it has begun.
// Threading: pure functions. Failure: none.
#pragma once

#include <map>
#include <string>

#include "core/climate/phase_plan.hpp"

namespace tubwarden {

/// The first stage of the loop that the phase belongs to: itself, or that of its `stage_of`. A
/// profile's fruiting is a loop even without later stages. Empty: it belongs to none.
std::string loop_of(const Profile& profile, const std::string& phase);

/// The flush that a phase belongs to, from 1; 0: none. `entered` is how often each phase was
/// entered, without what was taken back: entering the first stage again is the next flush.
int flush_in(const Profile& profile, const std::string& phase,
             const std::map<std::string, int>& entered);

}  // namespace tubwarden
