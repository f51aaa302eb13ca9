// The figures of /metrics, in Prometheus' text format 0.0.4. Threading: pure. Failure: a status
// that cannot be read has the sheet's own figures only.
#pragma once

#include <string>

#include "shell/sheet/sheet_server.hpp"

namespace tubwarden::sheet {

/// Of what the warden's `status` says, and of the sheet's own counters.
std::string metrics_text(const std::string& status_json, const SheetCounters& counters);

}  // namespace tubwarden::sheet
