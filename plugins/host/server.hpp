// The life of a plugin host: packets in, plugin calls, words out, until the daemon is gone.
// Threading: the main thread, plus the watchdog's. Failure: the exit code says how it ended.
#pragma once

#include <string>

namespace tubwarden::host {

/// Serves the daemon behind `socket` until its end (or SIGTERM): then makes all outputs safe.
int serve(const std::string& plugin_path, int socket);

}  // namespace tubwarden::host
