// The stop-post step: makes every output on a daemon's list safe, for the case that daemon and
// hosts have died together. Each plugin is loaded by a safe-run of its own, all of them at once.
// Threading: one thread. Failure: what is not safe is named on stderr; the others are still tried.
#pragma once

#include <cstdint>
#include <string>

#include "base/time.hpp"

namespace tubwarden::host {

/// Limits of its safe-runs: above the time that a driver over the network gives its broker for an
/// answer, and short enough that a second try after a hung call still fits.
inline constexpr std::uint32_t kHurriedCallMsMax = 800;
inline constexpr Duration kHurriedReachMax = seconds(1);
/// By then it has ended, whatever hangs.
inline constexpr Duration kStopPostMax = milliseconds(1900);

/// Exit code: kExitDone when all are safe, or when there is nothing to do (no list: no output was
/// in use); kExitSomeLeft when one is not, or when the list is broken.
int make_safe(const std::string& list_path);

}  // namespace tubwarden::host
