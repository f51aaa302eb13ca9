// Amounts with their unit, as the configuration writes them: "90s", "60 L", "26.5 C", "100 g/h".
// Threading: pure. Failure: an error that names the units allowed.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {

/// What an amount measures; its kept unit behind it.
enum class Measure {
  duration,     ///< seconds
  volume,       ///< L
  mass,         ///< kg
  water_rate,   ///< g/h
  air_rate,     ///< m3/h
  power,        ///< W
  temperature,  ///< C (also given as F)
  humidity,     ///< % relative humidity
  co2,          ///< ppm (also given as %)
};

/// "90s, 15m, 6h, 14d or 500ms", ...: for error texts and the reference.
std::string_view allowed_units(Measure measure);

/// The amount in its kept unit. A number without a unit is an error.
Result<double> parse_amount(std::string_view text, Measure measure);
/// Non-negative; days to milliseconds, and joined forms ("1h 30m").
Result<Duration> parse_duration(std::string_view text);

}  // namespace tubwarden
