// The broker of a configuration folder, for commands that listen to it by themselves.
// Threading: pure but for reading the folder. Failure: an Error that names file and line.
#pragma once

#include <string>

#include "base/result.hpp"
#include "settings/settings.hpp"

namespace tubwarden::cli {

/// As the folder's tubwarden.yaml has it.
Result<BrokerSettings> broker_in(const std::string& folder);

}  // namespace tubwarden::cli
