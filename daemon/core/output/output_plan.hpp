// What the configuration says of an output as a driver sees it: wiring, safe level, lease.
// Threading: plain values. Failure: none; settings has checked what is here.
#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string>

#include "base/time.hpp"

namespace tubwarden {

/// A level in permille of full: 0 rests, 1000 runs.
using Level = std::uint32_t;
inline constexpr Level kRest = 0;
inline constexpr Level kRun = 1000;

struct OutputId {
  std::string chamber;
  std::string actuator;
  auto operator<=>(const OutputId&) const = default;
};

struct OutputPlan {
  OutputId id;
  std::string driver;       ///< plugin name: mqtt_relay, simulated, ...
  std::string wiring_json;  ///< the driver's own options as one JSON object
  Level safe = kRest;
  Duration lease = seconds(15);
  bool network = false;  ///< the driver reaches its output over a network
  /// Nothing: the output has no timer of its own ("never"). Only a network output needs one.
  std::optional<Duration> falls_by_itself_after;
  bool own_process = false;
  /// Of the time proportioning of a level between, where the driver knows run and rest only;
  /// nothing: such an output takes no level between.
  std::optional<Duration> period;
  Duration shortest_run{0};  ///< within `period`, and its shortest rest
  bool operator==(const OutputPlan&) const = default;
};

}  // namespace tubwarden
