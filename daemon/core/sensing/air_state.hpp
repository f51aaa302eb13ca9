// What the sensors of one air say now: which readings are live and fresh, and one value a quantity.
// Threading: one owner. Failure: none; a quantity without a usable reading has no value.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/sensing/sensor_plan.hpp"

namespace tubwarden {

/// One value for a quantity, from all its sensors.
struct Sensed {
  double value = 0.0;     ///< the median of the fresh readings; in the quantity's kept unit
  double highest = 0.0;   ///< the highest of them: what a ceiling is judged by
  bool at_least = false;  ///< some sensor stands at the top of its range
  Instant seen{};         ///< of the newest
};

class AirState {
 public:
  AirState(std::vector<SensorPlan> sensors, Instant now);

  /// A reading. Retained ones are kept to be shown and never become usable: their age is unknown.
  void reading(std::size_t sensor, Quantity quantity, double value, bool retained, bool at_least,
               Instant taken, Instant now);
  /// The sensor's own will: lost until its next live reading.
  void gone(std::size_t sensor);
  /// The broker left or came back: no reading from before is usable again, and no sensor is called
  /// stale for the time the broker was away.
  void broker(bool up, Instant now);
  /// A new plan from now; sensors whose readings mean the same as before keep them.
  void adopt(std::vector<SensorPlan> sensors, Instant now);

  /// The usable value of a quantity, or nothing: absent, stale, retained, gone or from before an
  /// outage.
  std::optional<Sensed> usable(Quantity quantity, Instant now) const;
  /// The newest reading of a quantity however old, to be shown.
  std::optional<Sensed> newest(Quantity quantity) const;
  /// Whether any sensor of the plan carries the quantity.
  bool planned(Quantity quantity) const;
  /// Whether a sensor, or one of its quantities, has been silent for longer than its limit (or
  /// said it is gone).
  bool stale(std::size_t sensor, Instant now) const;
  bool silent(std::size_t sensor, Quantity quantity, Instant now) const;
  bool is_gone(std::size_t sensor) const;
  /// Whether every quantity of the sensor has been heard live since we have listened, and it has
  /// not said it is gone since.
  bool heard(std::size_t sensor) const;
  /// Since when a sensor has been silent: the newest live reading of its most silent quantity, or
  /// since we have listened.
  Instant silent_since(std::size_t sensor) const;
  /// The next moment at which a fresh reading turns stale.
  std::optional<Instant> next_staling(Instant now) const;

  const std::vector<SensorPlan>& sensors() const { return sensors_; }

 private:
  struct Slot {
    bool seen_any = false;
    bool live = false;
    bool at_least = false;
    double value = 0.0;
    Instant taken{};
    std::optional<Instant> heard;  ///< the newest live reading since we have listened
  };
  struct SensorState {
    std::array<Slot, kQuantities> slots{};
    bool gone = false;
    Instant listening_since{};
  };
  Instant silent_since(std::size_t sensor, Quantity quantity) const;
  bool fresh(std::size_t sensor, const Slot& slot, Instant now) const;
  template <class Accept>
  std::optional<Sensed> combine(Quantity quantity, Accept accept) const;

  std::vector<SensorPlan> sensors_;
  std::vector<SensorState> states_;
};

}  // namespace tubwarden
