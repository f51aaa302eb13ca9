// Actuators that run and move nothing: an empty tank, a fan that stands, a heater that is cold.
// Private to core/chamber. Threading: one owner. Failure: none; what cannot be told raises nothing.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "core/alert/alert.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/climate/effect_fit.hpp"
#include "core/climate/heat_watch.hpp"

namespace tubwarden {

/// Each look must have said nothing for so long before it is told: longer than a lid stands open
/// for a look or a watering (common practice, no source).
inline constexpr Duration kNoEffectHolds = minutes(45);
/// The fit is looked at so often at most.
inline constexpr Duration kNoEffectLook = seconds(30);

/// Noise may look like the effect of one portion, hardly like that of so many in a row.
inline constexpr int kPortionsProve = 3;
/// So many portions in a row must have moved nothing before it is told.
inline constexpr int kPortionsDeny = 4;
/// % RH: near saturation mist does not evaporate and a sensor may be wet; nothing is told of it
/// then, nor of what was before.
inline constexpr double kEffectMasked = 96.0;
/// ppm: where nobody says what the room has, a fan is asked about CO2 far above outdoor air only.
inline constexpr double kCo2Tells = 600.0;
/// The most that a run can do to an air is remembered so long after it has begun to.
inline constexpr Duration kMostFades = minutes(20);
/// A reading that has stood still for so long may be one of a sensor that hangs.
inline constexpr Duration kReadingStill = minutes(10);

/// % RH: so far it must have come up, too.
inline constexpr double kHumidityProves = 3.0;

/// C: so far a temperature must come back for a heater or cooler to be believed again.
inline constexpr double kWarmthProves = 0.5;
/// ppm, and share of what is above the room: so far CO2 must fall under a fan for it to be.
inline constexpr double kCo2Proves = 150.0;
inline constexpr double kCo2ProvesShare = 0.4;

struct NoEffect {
  struct Part {
    bool holds = false;
    std::optional<Quantity> by;  ///< what should have moved
    std::array<std::optional<Instant>, kQuantities> nothing_since{};
    std::array<double, kQuantities> most{};  ///< the most that it can have moved
    std::optional<EffectFit::Share> share;   ///< ... and how far it did; nothing: by its portions
    int portions_moved = 0;                  ///< in a row, since it holds
    std::optional<double> extreme;           ///< coldest since it holds (else: warmest, most CO2)
    HeatWatch heat;                          ///< of heaters and coolers
    AlertTimer alarm;
  };
  std::vector<Part> parts;  ///< by actuator
  std::array<EffectFit, kQuantities> fits{EffectFit({}), EffectFit({}), EffectFit({}),
                                          EffectFit({})};
  Instant followed{};
  std::array<Instant, kQuantities> looked{};
  struct Heard {
    std::optional<Instant> at, moved_at;
    double value = 0.0;
    double gap_s = 0.0;  ///< between two readings, of late
    void hear(double now_says, Instant now);
  };
  std::array<Heard, kQuantities> heard{};

  void forget() {
    for (EffectFit& fit : fits) fit.forget();
    for (Part& part : parts) part.heat.forget();
  }
};

std::string no_effect_cause(const std::string& actuator);

}  // namespace tubwarden
