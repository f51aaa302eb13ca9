#include "core/forecast/yield.hpp"

#include <fmt/format.h>

#include <string_view>

namespace tubwarden {
namespace {

struct Known {
  std::string_view name, unit;
  std::optional<double> value;
  bool above_0;
  double most;
};

}  // namespace

Result<CropYield> yield_of(const CropBasis& crop) {
  for (const Known& k : {Known{"picked", "kg", crop.picked_kg, false, 1e5},
                         {"dry substrate", "kg", crop.dry_kg, true, 1e6},
                         {"substrate", "kg", crop.substrate_kg, true, 1e6},
                         {"surface", "m2", crop.surface_m2, true, 1e5},
                         {"water", "L", crop.water_l, false, 1e7},
                         {"energy", "kWh", crop.energy_kwh, false, 1e7}}) {
    if (!k.value) continue;
    if ((k.above_0 ? *k.value > 0.0 : *k.value >= 0.0) && *k.value <= k.most) continue;
    return Error{ErrorCode::bad_input,
                 fmt::format("{}: {} {}; allowed: {} 0 and at most {:.0f} {}", k.name, *k.value,
                             k.unit, k.above_0 ? "above" : "from", k.most, k.unit)};
  }
  CropYield found;
  const double kg = crop.picked_kg;
  if (crop.dry_kg) found.biological_efficiency_pct = 100.0 * kg / *crop.dry_kg;
  if (crop.substrate_kg) found.of_substrate_pct = 100.0 * kg / *crop.substrate_kg;
  if (crop.surface_m2) found.kg_m2 = kg / *crop.surface_m2;
  if (kg > 0.0 && crop.water_l) found.water_l_kg = *crop.water_l / kg;
  if (kg > 0.0 && crop.energy_kwh) found.energy_kwh_kg = *crop.energy_kwh / kg;
  return found;
}

}  // namespace tubwarden
