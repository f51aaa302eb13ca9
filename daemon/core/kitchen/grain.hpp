// Water for grain. Moisture is water by the whole wet mass, and counts what the grain brings along:
// recipes that leave that out come out ten per cent wetter than they say.
// Threading: pure functions. Failure: an Error with what is allowed.
#pragma once

#include "base/result.hpp"
#include "core/kitchen/sum.hpp"

namespace tubwarden {

/// Air-dry rye: 0.11; the best for spawn: 0.49 to 0.54 (Stamets & Chilton, The Mushroom Cultivator,
/// 1983, p. 45).
inline constexpr double kGrainMoisture = 0.11;
inline constexpr double kGrainBestFrom = 0.49;
inline constexpr double kGrainBestTo = 0.54;

/// kg of water that bring `kg` of grain of moisture `own` to `target`, both 0..1 of the wet mass:
/// kg x (target - own) / (1 - target).
double grain_water_kg(double kg, double own, double target);
/// The moisture of `kg` of grain of moisture `own` with `water_kg` taken up.
double grain_moisture(double kg, double own, double water_kg);

struct GrainWish {
  double kg = 0.0;
  double own = kGrainMoisture;
  double target = 0.52;
};
Result<Sum> grain_sum(const GrainWish& wish);

}  // namespace tubwarden
