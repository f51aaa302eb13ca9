#include "core/air/psychrometrics.hpp"

#include <cmath>

namespace tubwarden {

namespace {

constexpr double kKelvin = 273.15;
constexpr double kTriplePointC = 0.01;
/// Ratio of the molar masses of water and dry air, ASHRAE 2017 ch. 1.
constexpr double kMassRatio = 0.621945;
constexpr double kVapourGasConstant = 461.5;  // J/(kg K)
constexpr double kLowestC = -100.0;
constexpr double kHighestC = 200.0;

double ln_over_ice(double k) {
  return -5.6745359e3 / k + 6.3925247 - 9.677843e-3 * k + 6.2215701e-7 * k * k +
         2.0747825e-9 * k * k * k - 9.484024e-13 * k * k * k * k + 4.1635019 * std::log(k);
}

double ln_over_water(double k) {
  return -5.8002206e3 / k + 1.3914993 - 4.8640239e-2 * k + 4.1764768e-5 * k * k -
         1.4452093e-8 * k * k * k + 6.5459673 * std::log(k);
}

double ln_saturation(double celsius) {
  const double k = celsius + kKelvin;
  return celsius <= kTriplePointC ? ln_over_ice(k) : ln_over_water(k);
}

}  // namespace

Pascal saturation_pressure(Celsius t) { return {std::exp(ln_saturation(t.value))}; }

Pascal vapour_pressure(Celsius t, Percent rh) {
  return {rh.value / 100.0 * saturation_pressure(t).value};
}

double humidity_ratio(Celsius t, Percent rh, Pascal pressure) {
  const double e = vapour_pressure(t, rh).value;
  return kMassRatio * e / (pressure.value - e);
}

Percent relative_humidity(Celsius t, double w, Pascal pressure) {
  const double e = pressure.value * w / (kMassRatio + w);
  return {100.0 * e / saturation_pressure(t).value};
}

std::optional<Celsius> dew_point(Pascal vapour) {
  if (!(vapour.value > 0.0)) return std::nullopt;
  const double wanted = std::log(vapour.value);
  double low = kLowestC;
  double high = kHighestC;
  if (wanted < ln_saturation(low) || wanted > ln_saturation(high)) return std::nullopt;
  // Bisection: the curve is rising throughout, and its two forms join with a small step at the
  // triple point that would trouble Newton's method. 300 K / 2^48 is 1e-12 K.
  for (int halving = 0; halving < 48; ++halving) {
    const double middle = (low + high) / 2.0;
    (ln_saturation(middle) < wanted ? low : high) = middle;
  }
  return Celsius{(low + high) / 2.0};
}

double absolute_humidity_g_m3(Celsius t, Percent rh) {
  return 1000.0 * vapour_pressure(t, rh).value / (kVapourGasConstant * (t.value + kKelvin));
}

Pascal vapour_pressure_deficit(Celsius t, Percent rh) { return vapour_pressure_deficit(t, t, rh); }

Pascal vapour_pressure_deficit(Celsius surface, Celsius air, Percent rh) {
  return {saturation_pressure(surface).value - vapour_pressure(air, rh).value};
}

}  // namespace tubwarden
