#include "core/kitchen/grain.hpp"

#include <fmt/format.h>

namespace tubwarden {
namespace {

/// Gypsum keeps the kernels apart: 0.5 g on 100 g of rye (Stamets, Growing Gourmet and Medicinal
/// Mushrooms, p. 130).
constexpr double kGypsumOnGrain = 0.005;
constexpr double kGrainMostKg = 500.0;
constexpr double kMoistureMost = 0.75;

}  // namespace

double grain_water_kg(double kg, double own, double target) {
  return kg * (target - own) / (1.0 - target);
}

double grain_moisture(double kg, double own, double water_kg) {
  return (kg * own + water_kg) / (kg + water_kg);
}

Result<Sum> grain_sum(const GrainWish& wish) {
  if (!(wish.kg > 0.0 && wish.kg <= kGrainMostKg)) {
    return Error{ErrorCode::bad_input, "the grain is more than 0 kg and at most 500 kg"};
  }
  if (!(wish.own >= 0.0 && wish.own < wish.target && wish.target <= kMoistureMost)) {
    return Error{ErrorCode::bad_input,
                 fmt::format("a moisture of {:.1f} % out of {:.1f} % is none that water makes; "
                             "allowed: a target above the grain's own, to 75 %",
                             wish.target * 100.0, wish.own * 100.0)};
  }
  const double water = grain_water_kg(wish.kg, wish.own, wish.target);
  Sum sum;
  sum.title = "Water for grain";
  sum.given = {{"grain", wish.kg, "kg", 3},
               {"its own moisture", wish.own * 100.0, "%", 1},
               {"wanted moisture", wish.target * 100.0, "%", 1}};
  sum.formula = "water = grain x (wanted - own) / (1 - wanted), moistures of the wet mass";
  sum.found = {{"water taken up", water, "kg", 3},
               {"wet grain", wish.kg + water, "kg", 3},
               {"gypsum, 0.5 % of the dry grain", wish.kg * kGypsumOnGrain * 1000.0, "g", 1}};
  sum.says = {
      "Water taken up, not poured: soak and simmer in more, drain, let it steam dry, and weigh: "
      "the "
      "wet grain's mass tells when it is right."};
  if (wish.target < kGrainBestFrom || wish.target > kGrainBestTo) {
    sum.says.push_back(
        "Rye runs best at 49 to 54 %: drier it runs slowly, wetter it bursts and sours.");
  }
  sum.source =
      "definition of wet-basis moisture; 11 % and 49 to 54 %: Stamets & Chilton, The Mushroom "
      "Cultivator, 1983, p. 45";
  sum.cautions = {"Boiling grain holds its heat for long and scalds: pour it away from you."};
  return sum;
}

}  // namespace tubwarden
