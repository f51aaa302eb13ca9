// The life of a plugin host: packets in, plugin calls, words out, until the daemon is gone.
// Threading: the main thread, plus the watchdog's. Failure: the exit code says how it ended.
#pragma once

#include <string>

#include "host/limits.hpp"

namespace tubwarden::host {

/// Serves the daemon behind `socket` until its end (or SIGTERM): then makes all outputs safe.
/// Every other descriptor is closed, and the process is held to `order`, before it is loaded.
int serve(const std::string& plugin_path, int socket, const LimitOrder& order);

}  // namespace tubwarden::host
