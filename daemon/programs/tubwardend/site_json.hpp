// What a plugin is told of the site: the broker's address and the names of its credential files.
// Threading: pure. Failure: none.
#pragma once

#include <string>

#include "settings/settings.hpp"

namespace tubwarden {

/// {"site": NAME, "broker": {"url": ..., "user_file": ...}}; file names, never what is in them.
std::string site_json(const SiteSettings& site);

}  // namespace tubwarden
