// The other end of the control socket, for the command line: one question, one answer.
// Threading: blocks the caller. Failure: an error with what to do; a daemon that does not answer in
// time is timed_out.
#pragma once

#include <string>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {

/// The daemon answers within 5 s that its record is slow; a little more than that.
inline constexpr Duration kAnswerWithin = seconds(8);

/// Asks `what` with `args_json` (one JSON object); the result as JSON text, or the daemon's own
/// error.
Result<std::string> ask_daemon(const std::string& socket, const std::string& what,
                               const std::string& args_json, Duration within);

}  // namespace tubwarden
