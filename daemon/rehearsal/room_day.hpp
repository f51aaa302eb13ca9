// The room through its day, or as a series tells it, cheap enough for every step of the model: a
// straight line from minute to minute. Threading: one owner. Failure: none.
#pragma once

#include <optional>
#include <vector>

#include "rehearsal/parameters.hpp"

namespace tubwarden::rehearsal {

/// Air as it comes in: temperature, water and CO2 a gram of dry air.
struct RoomAir {
  double celsius = 0.0;
  double vapour_g_g = 0.0;
  double co2_g_g = 0.0;
};

class RoomClock {
 public:
  /// `start_s` is the local second of the day at model time 0. Where the day's coldest hour could
  /// not hold the water asked for, the room has what it can hold.
  RoomClock(const RoomDay& day, double start_s);

  /// The room at model time `t_s`, which mostly grows.
  RoomAir at(double t_s) {
    if (t_s < from_s_ || t_s >= from_s_ + kKnotS) turn_to(t_s);
    return {celsius_ + slope_ * (t_s - from_s_), vapour_g_g_, co2_g_g_};
  }
  /// % RH of the room at that temperature.
  double humidity_pct(double celsius) const;

 private:
  static constexpr double kKnotS = 60.0;
  double celsius_at(double t_s) const;
  /// A quantity of the series at a time; nothing where it does not tell.
  std::optional<double> told(const std::vector<RoomKnot> RoomSeries::*knots, double t_s) const;
  void turn_to(double t_s);

  RoomDay day_;
  double start_s_;
  double vapour_g_g_;
  double co2_g_g_;
  double from_s_ = 0.0;
  double celsius_ = 0.0;
  double slope_ = 0.0;
};

/// Grams of CO2 a gram of dry air, and back; ppm of the dry air's volume.
double co2_g_g_from_ppm(double ppm);
double ppm_from_co2_g_g(double g_g);

}  // namespace tubwarden::rehearsal
