// The other end of the control socket, for the command line: one question, one answer.
// Threading: blocks the caller. Failure: an error with what to do; a daemon that does not answer in
// time is timed_out.
#pragma once

#include <string>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {

/// Asks `what` with `args_json` (one JSON object); the result as JSON text, or the daemon's own
/// error.
Result<std::string> ask_daemon(const std::string& socket, const std::string& what,
                               const std::string& args_json, Duration within);

}  // namespace tubwarden
