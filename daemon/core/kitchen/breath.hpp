// Fresh air and air: what keeps a tub's CO2 below a level, how fast an air changes by its decay,
// and the dew point. Threading: pure functions. Failure: an Error with what is allowed.
#pragma once

#include <optional>
#include <span>

#include "base/result.hpp"
#include "core/air/units.hpp"
#include "core/air/ventilation.hpp"
#include "core/kitchen/sum.hpp"

namespace tubwarden {

struct FreshAirWish {
  double compost_kg = 0.0;  ///< wet
  double mushrooms_kg = 0.0;
  double keep_below_ppm = 1000.0;
  double room_ppm = 420.0;
  double celsius = 16.0;
  std::optional<double> net_l;  ///< of air in the tub; then air changes too
};
/// g of CO2 an hour: 0.045 g a kg of compost and 1.056 g a kg of mushrooms at 16 C, 20 % more a
/// kelvin (a growers' manual, quoted second hand; good for a few kelvin).
double co2_grams_per_hour(double compost_kg, double mushrooms_kg, Celsius t);
/// g/L of CO2 at 101325 Pa, by the ideal gas.
double co2_grams_per_litre(Celsius t);
Result<Sum> fresh_air_sum(const FreshAirWish& wish);

/// A worse line is no decay: the source was there, or the lid moved.
inline constexpr double kDecayFitLeast = 0.95;
inline constexpr std::size_t kDecayReadingsLeast = 10;
/// Air changes an hour of an air nobody breathes into, as ASTM E741 has it: the slope of
/// ln(C - background). Refused: a poor fit, few readings, a rise, less than a third decayed.
Result<Sum> air_changes_sum(std::span<const Co2Sample> samples, Ppm background,
                            std::optional<double> net_l);

Result<Sum> dew_sum(Celsius t, Percent rh);

}  // namespace tubwarden
