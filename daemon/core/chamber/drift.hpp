// Time to leaving the band, where what is called does not turn it. Private to core/chamber.
// Threading: one owner. Failure: none; what cannot be told is not.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "base/quantity.hpp"
#include "core/alert/alert.hpp"
#include "core/climate/drift_watch.hpp"

namespace tubwarden {

/// What is watched, in quarters: some teeth of a held air, two periods of a bed's duty.
inline constexpr Duration kAirDriftWindow = minutes(5);
inline constexpr Duration kWarmthDriftWindow = minutes(40);
/// So long after it was called an output must have turned what it can: an air answers within a
/// minute or two, a bed with its probe in the middle within three quarters of an hour (common
/// practice, no source).
inline constexpr Duration kAirAnswers = minutes(4);
inline constexpr Duration kWarmthAnswers = minutes(50);
/// Of a band's width, so much must have been lost within the window.
inline constexpr double kDriftOfBand = 0.1;
/// ... and so many of the sensor's quanta.
inline constexpr double kDriftQuanta = 3.0;

struct Leaving {
  bool up = false;  ///< over the band's high edge
  Instant at{};
};

struct DriftState {
  explicit DriftState(Duration window) : watch(window) {}
  DriftWatch watch;
  std::optional<Leaving> leaving;
  AlertTimer alarm;
};

struct Drifts {
  /// By index_of(Quantity).
  std::array<DriftState, kQuantities> of{
      DriftState(kAirDriftWindow), DriftState(kWarmthDriftWindow), DriftState(kWarmthDriftWindow),
      DriftState(kAirDriftWindow)};
  void forget() {
    for (DriftState& d : of) {
      d.watch.forget();
      d.leaving.reset();
    }
  }
};

}  // namespace tubwarden
