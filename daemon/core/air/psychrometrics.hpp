// Moist air: how much water is in it, how much more it would take, and where it would fall out.
// Saturation follows Hyland and Wexler (1983) as ASHRAE Fundamentals 2017 ch. 1 eq. 5 (over ice,
// below the triple point) and eq. 6 (over water) print it; no enhancement factor is applied.
// Threading: pure functions. Failure: dew_point() returns nothing where there is none; the others
// follow their formula wherever they are asked, and hold for -100..200 C.
#pragma once

#include <optional>

#include "core/air/units.hpp"

namespace tubwarden {

/// The standard atmosphere at sea level (ASHRAE Fundamentals 2017 ch. 1 eq. 3 at 0 m).
inline constexpr Pascal kSeaLevel{101325.0};

/// Pressure of water vapour in equilibrium with water (ice below 0.01 C).
Pascal saturation_pressure(Celsius t);

/// Partial pressure of water vapour in air of this temperature and relative humidity.
Pascal vapour_pressure(Celsius t, Percent rh);

/// kg of water vapour a kg of dry air: W = 0.621945 e / (p - e), ASHRAE 2017 ch. 1 eq. 20.
double humidity_ratio(Celsius t, Percent rh, Pascal pressure = kSeaLevel);

/// The relative humidity that air of this temperature has with humidity ratio `w` (kg/kg).
/// May exceed 100 where the air cannot hold that much.
Percent relative_humidity(Celsius t, double w, Pascal pressure = kSeaLevel);

/// Where air with this vapour pressure begins to shed water (frost below 0.01 C).
/// Nothing for no vapour at all, or a dew point outside -100..200 C.
std::optional<Celsius> dew_point(Pascal vapour);

/// Grams of water vapour a cubic metre of moist air: e / (Rv T), Rv = 461.5 J/(kg K).
double absolute_humidity_g_m3(Celsius t, Percent rh);

/// What the air could still take up at its own temperature: es(t) (1 - RH/100).
Pascal vapour_pressure_deficit(Celsius t, Percent rh);

/// What draws water out of a wet surface of another temperature: es(surface) - e(air).
/// Negative when the surface is below the dew point and takes water up.
Pascal vapour_pressure_deficit(Celsius surface, Celsius air, Percent rh);

}  // namespace tubwarden
