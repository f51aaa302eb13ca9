// The daemon put together: the only place that knows every room of the shell.
// Threading: run() is the loop; everything else happens on it. Failure: a start that cannot be made
// is an error with the way out; after that only a signal ends it.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "base/result.hpp"

namespace tubwarden {

struct DaemonOptions {
  std::filesystem::path config;
  std::filesystem::path plugins;  ///< folder of the plugins' .so
  std::filesystem::path host;     ///< tubwarden-plugin-host
  /// Decides and says it, and switches, publishes, tells and keeps nothing.
  bool dry = false;
};

class Daemon {
 public:
  explicit Daemon(DaemonOptions options);
  ~Daemon();
  /// Reads the configuration, opens the record, starts all parts.
  Outcome start();
  /// Turns the loop until SIGTERM or SIGINT, makes all outputs safe, and ends.
  void run();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden
