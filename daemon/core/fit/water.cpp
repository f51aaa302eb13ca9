#include "core/fit/water.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden::fit {
namespace {

constexpr double kKelvin = 273.15;
constexpr double kDryGasConstant = 287.042;   // J/(kg K), ASHRAE Fundamentals 2017 ch. 1
constexpr double kVapourGasConstant = 461.5;  // J/(kg K)
constexpr double kAirJM3K = 1.2 * 1006.0;     // rho cp of air at 17 C
constexpr double kLewisToTwoThirds = 0.8973;  // 0.85^(2/3)

double saturated_g(Litres air, Celsius t) {
  ENSURE(air.value > 0.0);
  return absolute_humidity_g_m3(t, Percent{100}) * air.value / 1000.0;
}

}  // namespace

double rh_of_water(double grams, Litres air, Celsius t) {
  return 100.0 * grams / saturated_g(air, t);
}

double rh_of_run(double g_per_h, Duration run, Litres air, Celsius t) {
  return rh_of_water(g_per_h * seconds_of(run) / 3600.0, air, t);
}

double rate_for(double rh, Duration run, Litres air, Celsius t) {
  ENSURE(run > Duration{0});
  return rh / 100.0 * saturated_g(air, t) / seconds_of(run) * 3600.0;
}

Duration run_for(double rh, double g_per_h, Litres air, Celsius t) {
  ENSURE(g_per_h > 0.0);
  return from_seconds(rh / 100.0 * saturated_g(air, t) / g_per_h * 3600.0);
}

double room_above_start(const Band& band) { return band.high - (band.low + band.width() / 4.0); }

Reach reach_of_run(const Band& band, double g_per_h, Duration longest, Duration late, Litres air,
                   Celsius t) {
  const Duration told = run_for(band.width() / 4.0, g_per_h, air, t) + late;
  const bool by_limit = longest > Duration{0} && longest <= told;
  return {rh_of_run(g_per_h, by_limit ? longest : told, air, t), by_limit};
}

double water_taken_g_m3(Moist inside, Moist room) {
  const double dry_pa = kSeaLevel.value - vapour_pressure(room.t, room.rh).value;
  const double dry_kg_m3 = dry_pa / (kDryGasConstant * (room.t.value + kKelvin));
  return 1000.0 * dry_kg_m3 *
         (humidity_ratio(inside.t, inside.rh) - humidity_ratio(room.t, room.rh));
}

Percent rh_after_exchange(Moist inside, Moist room, double changes) {
  const double own = humidity_ratio(inside.t, inside.rh);
  const double theirs = humidity_ratio(room.t, room.rh);
  return relative_humidity(inside.t, theirs + (own - theirs) * std::exp(-changes));
}

std::optional<double> changes_until(Moist inside, Moist room, Percent target) {
  const double theirs = humidity_ratio(room.t, room.rh);
  const double from = humidity_ratio(inside.t, inside.rh) - theirs;
  const double to = humidity_ratio(inside.t, target) - theirs;
  if (from == 0.0 || to / from <= 0.0 || to / from > 1.0) return std::nullopt;
  return -std::log(to / from);
}

double casing_gives_g_h(double substrate_kg, bool flush, Moist inside) {
  const double m2 = kCasingM2PerKg * substrate_kg * (flush ? kFlushArea : 1.0);
  const double saturated = saturation_pressure(inside.t).value;
  const double draws = kCasingActivity * saturated - vapour_pressure(inside.t, inside.rh).value;
  const double metres_a_second = kCasingWM2K / (kAirJM3K * kLewisToTwoThirds);
  const double kg_s =
      metres_a_second * m2 * draws / (kVapourGasConstant * (inside.t.value + kKelvin));
  return std::max(0.0, kg_s * 3.6e6);
}

}  // namespace tubwarden::fit
