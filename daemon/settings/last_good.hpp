// The last good copy: the configuration folder as it last was without an error, to start from when
// the folder is found broken. Threading: reads and writes files; any one thread. Failure: an error
// with the path; a copy that could not be finished leaves the one before in place.
#pragma once

#include <filesystem>

#include "base/result.hpp"

namespace tubwarden {

/// Copies the configuration files of `folder` to `state`/last-good, replacing the copy before in
/// one rename. Only *.yaml files are taken, at most 5,000 of at most 1 MiB.
Outcome keep_last_good(const std::filesystem::path& folder, const std::filesystem::path& state);

/// Where that copy is, if there is one.
std::filesystem::path last_good_in(const std::filesystem::path& state);

}  // namespace tubwarden
