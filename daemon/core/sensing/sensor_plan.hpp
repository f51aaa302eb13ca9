// What the configuration says of a sensor: its topic, and where in the payload which quantity
// stands. Threading: plain values. Failure: none; settings has checked what is here.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/air/calibration.hpp"

namespace tubwarden {

enum class SensorUnit { percent, celsius, fahrenheit, kelvin, ppm };

/// One quantity of a sensor. value = raw x scale + offset, then from `unit` to the kept unit, then
/// through the calibration.
struct QuantitySource {
  Quantity quantity = Quantity::humidity;
  std::string at;  ///< RFC 6901 pointer; empty is the whole document
  SensorUnit unit = SensorUnit::percent;
  double scale = 1.0;
  double offset = 0.0;
  double range_low = 0.0;                  ///< kept unit, before calibration; outside is a refusal
  double range_high = 0.0;                 ///< kept unit, before calibration
  std::optional<double> accuracy;          ///< kept unit, +-
  std::optional<double> step;              ///< kept unit: the smallest change the sensor can tell
  std::optional<double> jump{};            ///< kept unit; else by traits_of()
  std::optional<double> fastest_minute{};  ///< kept unit a minute; else by traits_of()
  std::optional<TwoPoint> calibration{};   ///< in the kept unit
  bool operator==(const QuantitySource&) const = default;
};

enum class StampForm { unix_s, unix_ms, rfc3339 };

/// Where the payload carries its own time.
struct StampPlan {
  std::string at;
  StampForm form = StampForm::unix_s;
  bool operator==(const StampPlan&) const = default;
};

/// The sensor's own last will: when `topic` says `says`, the sensor is lost at once.
struct GonePlan {
  std::string topic;
  std::string says;
  bool operator==(const GonePlan&) const = default;
};

struct SensorPlan {
  std::string id;
  std::string topic;
  std::vector<QuantitySource> quantities;
  Duration stale_after = minutes(2);
  /// It speaks when its value changes, and else at least every `at_least_every`: it has no rhythm
  /// that could be learned, and its silence means that nothing moved.
  bool on_change = false;
  std::optional<Duration> at_least_every;
  std::optional<StampPlan> time;
  std::optional<GonePlan> gone;
  bool operator==(const SensorPlan&) const = default;
};

}  // namespace tubwarden
