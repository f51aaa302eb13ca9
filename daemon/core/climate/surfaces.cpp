#include "core/climate/surfaces.hpp"

#include <algorithm>

#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

constexpr double kInsideWM2K = 4.0, kOutsideWM2K = 6.0;
constexpr double kDewOver = 0.5;
constexpr Duration kUnseen = minutes(10);
constexpr double kUnseenGM2H = kWateredGM2 / 4.0;
/// h / hm = rho cp Le^(2/3): 1.2 kg/m3, 1006 J/(kg K), 0.8973 at Le 0.85; vapour of 17 C.
constexpr double kGM2HPa = kInsideWM2K / (1.2 * 1006.0 * 0.8973) * 1000.0 * 3600.0 / 461.5 / 290.15;

}  // namespace

Celsius lid_temperature(Celsius air, Celsius room) {
  // In series: the inside's share of the difference falls over the inside.
  constexpr double kInsideShare = kOutsideWM2K / (kInsideWM2K + kOutsideWM2K);
  return Celsius{air.value - kInsideShare * (air.value - room.value)};
}

double dries_g_m2_h(Pascal deficit) { return kGM2HPa * deficit.value; }

void DewGuard::judge(Celsius surface, Pascal vapour) {
  const double over = holds_ ? kDewOver : 0.0;
  holds_ = saturation_pressure(Celsius{surface.value - over}).value <= vapour.value;
}

void SurfaceFilm::follow(const std::optional<Air>& air, Instant now) {
  const Duration passed = told_ ? now - *told_ : Duration{0};
  told_ = now;
  if (!air) return;
  if (air->humidity_pct >= kWetFrom || air->deficit.value <= 0.0) {
    grams_m2_ = std::max(grams_m2_, kDewGM2);
    if (!since_) since_ = now;
    return;
  }
  if (!since_ || passed > kUnseen) return;
  grams_m2_ -= dries_g_m2_h(air->deficit) * seconds_of(passed) / 3600.0;
  if (grams_m2_ > 0.0) return;
  grams_m2_ = 0.0;
  since_.reset();
}

void SurfaceFilm::watered(Instant at, Instant now) {
  const Duration ago = now - at;
  const double dried = ago > kUnseen ? kUnseenGM2H * seconds_of(ago) / 3600.0 : 0.0;
  const double left = kWateredGM2 - dried;
  if (left <= 0.0) return;
  grams_m2_ = std::max(grams_m2_, left);
  if (!since_) since_ = at;
}

}  // namespace tubwarden
