// What a rehearsal came to: how long the air was where it should be, and what that took.
// Threading: plain values. Failure: none.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"

namespace tubwarden::rehearsal {

struct Share {
  double in = 0.0;
  double all = 0.0;
  /// 0..1; nothing was counted: nothing.
  std::optional<double> of() const {
    return all > 0.0 ? std::optional<double>(in / all) : std::nullopt;
  }
};

struct BandTime {
  Share true_s;                     ///< seconds, after the run-in, while a band is kept
  Share sensed;                     ///< samples, after the run-in
  Share since_in;                   ///< samples, after the first one in its band
  std::optional<Duration> reached;  ///< when that first one was, since the start
};

struct ActuatorWork {
  int starts = 0;
  double run_s = 0.0;   ///< at full level
  double amount = 0.0;  ///< g of water, m3 of air or kJ, by the effect
};

struct Statistics {
  std::array<BandTime, kQuantities> bands;
  Share all_true_s;                ///< seconds in which every kept quantity was in its band at once
  Share all_sensed_s;              ///< ... by the last words of its sensors, where each has spoken
  std::vector<ActuatorWork> work;  ///< by actuator
  double mist_g = 0.0;
  double energy_kj = 0.0;  ///< heaters, coolers, lamps
  std::uint64_t turns = 0;
  std::uint64_t readings = 0;
  std::uint64_t refused = 0;  ///< samples outside their sensor's range
  std::uint64_t alerts_raised = 0;
  std::uint64_t alerts_returned = 0;
};

}  // namespace tubwarden::rehearsal
