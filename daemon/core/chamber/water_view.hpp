// What a chamber's water book says, for those who show it.
// Threading: plain values. Failure: none; what is missing is named instead of a number.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/grow/water_book.hpp"

namespace tubwarden {

/// Of a tub with a casing.
struct CasingView {
  std::string tub;
  double given_ml = 0.0;  ///< by the watering it counts from; 0: since it was cased or first seen
  WaterAccount account;
};

/// Of a mister with a tank.
struct TankView {
  std::string actuator;
  double holds_ml = 0.0;
  /// By its nominal rate; nothing until it was told once that the tank is full.
  std::optional<double> left_ml;
  std::optional<Duration> lasts;  ///< as it ran in the last day
};

struct WaterView {
  std::vector<std::string> missing;  ///< why no account is kept: "the room's humidity", ...
  bool leak_assumed = false;
  std::vector<CasingView> casings;
  std::vector<TankView> tanks;
  // Of the last 24 hours, as far as they were seen.
  Duration day_seen{0};
  double day_mist_g = 0.0;
  double day_energy_wh = 0.0;
  std::vector<std::string> unmetered;  ///< outputs whose power is not known
};

/// What a tub's casing gave up and what to give back, or what is missing to say so; without the
/// tub's name.
std::string told(const CasingView& casing, const WaterView& view);
std::string told(const TankView& tank);
/// The last day's water and energy; empty where nothing ran.
std::string told_day(const WaterView& view);

}  // namespace tubwarden
