#include "rehearsal/room_day.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/air/psychrometrics.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kDayS = 86400.0;
/// Molar masses of CO2 and dry air, g/mol (CO2: IUPAC; air: ASHRAE 2017 ch. 1; from memory).
constexpr double kCo2ToAir = 44.0095 / 28.966;

}  // namespace

double co2_g_g_from_ppm(double ppm) { return ppm * 1e-6 * kCo2ToAir; }
double ppm_from_co2_g_g(double g_g) { return g_g * 1e6 / kCo2ToAir; }

RoomClock::RoomClock(const RoomDay& day, double start_s)
    : day_(day),
      start_s_(start_s),
      vapour_g_g_(
          std::min(humidity_ratio(Celsius{day.mean_c}, Percent{day.humidity_pct}),
                   humidity_ratio(Celsius{day.mean_c - std::fabs(day.swing_c)}, Percent{100.0}))),
      co2_g_g_(co2_g_g_from_ppm(day.co2_ppm)) {
  turn_to(0.0);
}

double RoomClock::celsius_at(double t_s) const {
  const double since_warmest = t_s + start_s_ - day_.warmest_h * 3600.0;
  return day_.mean_c + day_.swing_c * std::cos(2.0 * std::numbers::pi * since_warmest / kDayS);
}

void RoomClock::turn_to(double t_s) {
  from_s_ = std::floor(t_s / kKnotS) * kKnotS;
  celsius_ = celsius_at(from_s_);
  slope_ = (celsius_at(from_s_ + kKnotS) - celsius_) / kKnotS;
}

double RoomClock::humidity_pct(double celsius) const {
  return relative_humidity(Celsius{celsius}, vapour_g_g_).value;
}

}  // namespace tubwarden::rehearsal
