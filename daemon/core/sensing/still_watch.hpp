// Whether a sensor is stuck, on evidence only: it stood still through a run that should have moved
// it three quanta. Standing still alone is no evidence; a well kept air does that.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "base/quantity.hpp"
#include "base/time.hpp"

namespace tubwarden {

/// What a run should have done to a quantity, as far as it is known.
struct Push {
  Quantity quantity = Quantity::humidity;
  Instant from{}, to{};
  double amount = 0.0;  ///< signed, in the kept unit: the least that the run should have moved
};

/// Evidence is this many quanta of movement that did not come.
inline constexpr double kStuckQuanta = 3.0;
/// Readings since the run began, for a sensor that speaks by a rhythm.
inline constexpr int kStuckReadings = 3;

/// For so long after a run its effect may yet come: a mist settles and a humidity sensor follows
/// within two minutes, a substrate within ten (common practice, no source).
constexpr Duration watch_after_run(Quantity q) {
  return q == Quantity::substrate_temperature ? Duration(minutes(10)) : Duration(minutes(2));
}

class StillWatch {
 public:
  /// One live reading that was taken.
  void reading(double value, Instant taken);
  /// Whether the pushes known by now prove it stuck. `step` is the smallest change the sensor
  /// tells; without it the smallest one it has ever shown, or else `usual`. `speaks_on_change`: its
  /// silence is a reading.
  bool stuck(std::span<const Push> pushes, Quantity quantity, std::optional<double> step,
             double usual, bool speaks_on_change, Instant now) const;
  /// Whether it has moved since it stood at the value it took at `since`.
  bool moved_since(Instant since) const { return !since_ || *since_ > since; }
  /// Since when it has not moved; nothing before the first reading.
  std::optional<Instant> still_since() const { return since_; }
  double quantum(std::optional<double> step, double usual) const;

 private:
  std::optional<Instant> since_;
  double value_ = 0.0;
  Instant newest_{};
  std::uint32_t readings_ = 0;  ///< since it has not moved
  std::optional<double> smallest_;
};

}  // namespace tubwarden
