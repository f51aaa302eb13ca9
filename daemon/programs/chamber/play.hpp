// The physical model as a process: the chambers of a configuration folder, in real time on MQTT.
// Threading: run() is the loop. Failure: a folder that names nothing to play is an Error; a broker
// that is away is waited for.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include "base/result.hpp"
#include "base/time.hpp"
#include "rehearsal/parameters.hpp"

namespace tubwarden {

struct PlayOptions {
  std::filesystem::path config, plugins, host;
  std::string chamber;  ///< empty: every one
  rehearsal::Load load = rehearsal::Load::pinning;
  std::optional<double> room_celsius, room_humidity_pct;  ///< else the folder's, else usual
  std::uint64_t seed = 1;
  Duration every = seconds(2);  ///< how often each sensor speaks
  bool talk = false;            ///< a line a chamber on stdout, each time
};

class Play {
 public:
  explicit Play(PlayOptions options);
  ~Play();
  Outcome start();
  /// Until SIGTERM or SIGINT.
  void run();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden
