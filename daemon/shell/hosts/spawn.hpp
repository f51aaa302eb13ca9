// Starts a process that inherits exactly the descriptors it is given.
// Threading: any; nothing leaks into a child started at the same time. Failure: an Error with
// errno's words.
#pragma once

#include <sys/types.h>

#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden {

/// `given` descriptors become 3, 4, ... in the child; `out` becomes its stdout, -1: our stderr.
/// stdin is /dev/null, stderr ours. The service manager's own variables are not passed on.
Result<pid_t> spawn_with(const std::string& program, std::vector<std::string> argv,
                         const std::vector<int>& given, int out = -1);

}  // namespace tubwarden
