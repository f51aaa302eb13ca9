#include "core/fit/heat.hpp"

#include <cmath>

#include "base/ensure.hpp"
#include "core/fit/water.hpp"

namespace tubwarden::fit {
namespace {

double wall_m2(Litres air) {
  ENSURE(air.value > 0.0);
  return kWallM2At60L * std::pow(air.value / 60.0, 2.0 / 3.0);
}

double in_series(double a, double b) { return 1.0 / (1.0 / a + 1.0 / b); }

/// Walls and leak.
double shell_w_k(Litres air) {
  constexpr double kHeatsAir = 1.2 * 1006.0;  // J/(m3 K)
  const double leak = kLeakPerHour / 3600.0 * air.value / 1000.0 * kHeatsAir;
  return wall_m2(air) * in_series(kWallInsideWM2K, kWallOutsideWM2K) + leak;
}

}  // namespace

double loss_w_k(Litres air, int tubs) { return shell_w_k(air) + tubs * kSubstrateToRoomWK; }

MatRise mat_rise(double watts, Litres air, double substrate_kg) {
  ENSURE(substrate_kg > 0.0);
  const double gives = kCasingWM2K + kEvaporationWM2K;
  const double surface = kCasingM2PerKg * substrate_kg * in_series(gives, kCoreToSurfaceWM2K);
  const double upwards = in_series(surface, shell_w_k(air));
  const double substrate = watts / (kSubstrateToRoomWK + upwards);
  const double through = substrate * upwards;
  const double walls = through / (kWallOutsideWM2K * wall_m2(air));
  const double over_walls = kCasingWM2K / gives * through / (kWallInsideWM2K * wall_m2(air));
  return {substrate, walls + over_walls};
}

}  // namespace tubwarden::fit
