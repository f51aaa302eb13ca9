// What a chamber controlled by portions knows of its air: forecasts of humidity and CO2, the runs
// that are under way. Private to core/chamber. Threading: one owner. Failure: none.
#pragma once

#include <optional>

#include "core/climate/air_forecast.hpp"
#include "core/climate/fresh_air.hpp"
#include "core/climate/mist_watch.hpp"
#include "core/climate/portion.hpp"
#include "core/climate/reason.hpp"

namespace tubwarden {

/// A run of known length, decided and perhaps not yet begun.
struct PlannedRun {
  Instant since{};
  Instant until{};
  double start = 0.0;  ///< where its quantity called it
  double aim = 0.0;    ///< where it is expected to bring it
  std::optional<FanMaster> master;
  std::optional<DoseReason> dose;
};

/// The priors of an air that nobody has measured.
ForecastTraits humidity_traits();
ForecastTraits co2_traits();

struct Portions {
  AirForecast humidity{humidity_traits()};
  AirForecast co2{co2_traits()};
  std::optional<PlannedRun> mist;
  std::optional<PlannedRun> fan;
  MistWatch watch;
  /// What was known when a portion was last seen to move the air.
  AirForecast::Learned proved{};
  double dosed_by = 0.0;  ///< the input's share that the last portion was found by; 0: none yet
  AirForecast::Learned told = {0.0, 0.0, 0.0, 0.0};  ///< what was last told for the record
  Instant told_at{};
  std::optional<Instant> heard;  ///< the last humidity reading
  double each_s = 0.0;           ///< between two of them, of late; 0: not known
  void hold_to_proved();
  /// With hands in the tub the air says nothing of what follows; what was learned stays.
  void forget() {
    humidity.forget();
    co2.forget();
    watch.disturbed();
  }

  double fan_share = 0.0;  ///< of the time that the fans ran of late, by level
  Instant followed{};
};

}  // namespace tubwarden
