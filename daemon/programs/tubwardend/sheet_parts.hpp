// What joins the sheet to configuration and warden. Threading: at the start of the program; reads
// or makes one small file. Failure: an error with the way out.
#pragma once

#include <string>

#include "settings/settings.hpp"
#include "shell/sheet/sheet_server.hpp"
#include "shell/warden/warden.hpp"

namespace tubwarden {

/// The key of the cookies lies in the record's folder, so that a restart signs nobody out.
Result<SheetOptions> sheet_options(const SheetSettings& settings, const std::string& state_folder);

SheetCounts counts_of(const SheetCounters& counters);

}  // namespace tubwarden
