// The conformance kit: tries a plugin by every case, and prints a verdict a line and a sum.
// Threading: one thread, and a process a case. Failure: a line that begins with FAIL.
#pragma once

#include <string>

namespace tubwarden::host {

/// The output that `options_path` wires is really switched, and made safe at the end. Returns
/// kExitDone when no case failed, kExitSomeLeft when one did, kExitUsage for an options file that
/// cannot be read.
int try_plugin(const std::string& plugin_path, const std::string& options_path);

}  // namespace tubwarden::host
