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
  water_ratio,  ///< g/kg: grams of water a kilogram of dry air
  pressure,     ///< kPa
  share,        ///< %
  gauge,        ///< kPa above the atmosphere (also given as psi, bar)
  length,       ///< m
};

/// "a duration with its unit: 500ms, 90s, 15m, 6h or 14d", ...: for error texts and the reference.
std::string_view allowed_units(Measure measure);

/// The amount in its kept unit. A number without a unit is an error. Durations: parse_duration.
Result<double> parse_amount(std::string_view text, Measure measure);
/// How far apart two amounts are, in the kept unit: 9 F are 5 C here. Not negative.
Result<double> parse_difference(std::string_view text, Measure measure);
/// Not negative; days to milliseconds, one or more of them in falling order ("1h 30m").
Result<Duration> parse_duration(std::string_view text);

/// The kept amount as it would be written: "26.5 C", "60 L", "90s".
std::string amount_text(double kept, Measure measure);

}  // namespace tubwarden
