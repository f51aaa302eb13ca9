#include "core/fit/heat.hpp"

#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden::fit {

double loss_w_k(Litres air, int tubs) {
  ENSURE(air.value > 0.0);
  constexpr double kHeatsAir = 1.2 * 1006.0;
  const double m2 = kWallM2At60L * std::pow(air.value / 60.0, 2.0 / 3.0);
  const double through = 1.0 / (1.0 / kWallInsideWM2K + 1.0 / kWallOutsideWM2K);
  const double leak = kLeakPerHour / 3600.0 * air.value / 1000.0 * kHeatsAir;
  return m2 * through + leak + tubs * kSubstrateToRoomWK;
}

}  // namespace tubwarden::fit
