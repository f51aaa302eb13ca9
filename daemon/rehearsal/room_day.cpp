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

std::optional<double> RoomClock::told(const std::vector<RoomKnot> RoomSeries::*knots,
                                      double t_s) const {
  if (!day_.series) return std::nullopt;
  const std::vector<RoomKnot>& of = (*day_.series).*knots;
  if (of.empty()) return std::nullopt;
  const double length = day_.series->length_s;
  const double at = length > 0.0 ? std::fmod(std::max(t_s, 0.0), length) : 0.0;
  const auto after = std::upper_bound(of.begin(), of.end(), at,
                                      [](double t, const RoomKnot& k) { return t < k.at_s; });
  if (after == of.begin()) return of.front().value;
  if (after == of.end()) return of.back().value;
  const RoomKnot& before = *(after - 1);
  const double share = (at - before.at_s) / (after->at_s - before.at_s);
  return before.value + share * (after->value - before.value);
}

double RoomClock::celsius_at(double t_s) const {
  if (const auto given = told(&RoomSeries::celsius, t_s)) return *given;
  const double since_warmest = t_s + start_s_ - day_.warmest_h * 3600.0;
  return day_.mean_c + day_.swing_c * std::cos(2.0 * std::numbers::pi * since_warmest / kDayS);
}

void RoomClock::turn_to(double t_s) {
  from_s_ = std::floor(t_s / kKnotS) * kKnotS;
  celsius_ = celsius_at(from_s_);
  slope_ = (celsius_at(from_s_ + kKnotS) - celsius_) / kKnotS;
  if (!day_.series) return;
  // What the air of the day holds, unless the series says how humid it is; never more than it can.
  const double ratio =
      told(&RoomSeries::humidity_pct, from_s_)
          ? humidity_ratio(Celsius{celsius_}, Percent{*told(&RoomSeries::humidity_pct, from_s_)})
          : humidity_ratio(Celsius{day_.mean_c}, Percent{day_.humidity_pct});
  vapour_g_g_ = std::min(ratio, humidity_ratio(Celsius{celsius_}, Percent{100.0}));
  co2_g_g_ = co2_g_g_from_ppm(told(&RoomSeries::co2_ppm, from_s_).value_or(day_.co2_ppm));
}

double RoomClock::humidity_pct(double celsius) const {
  return relative_humidity(Celsius{celsius}, vapour_g_g_).value;
}

}  // namespace tubwarden::rehearsal
