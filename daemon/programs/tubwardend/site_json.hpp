// What a plugin is told of the site: the broker's address and the names of its credential files.
// Threading: pure. Failure: none.
#pragma once

#include <string>

#include "settings/settings.hpp"

namespace tubwarden {

/// {"broker": {"url": ..., "user_file": ...}}; never a secret itself.
std::string site_json(const BrokerSettings& broker);

}  // namespace tubwarden
