// What a crop has come to: by dry and by wet substrate, by area, and what a kilo cost in water and
// energy. Threading: pure. Failure: a figure whose basis is not known is absent; an Error where a
// mass or an area cannot be.
#pragma once

#include <optional>

#include "base/result.hpp"

namespace tubwarden {

/// What is known of a bed; nothing: not noted.
struct CropBasis {
  double picked_kg = 0.0;              ///< fresh, of all flushes so far
  std::optional<double> dry_kg;        ///< substrate at the start, dry
  std::optional<double> substrate_kg;  ///< ... wet
  std::optional<double> surface_m2;
  std::optional<double> water_l;     ///< given to it: by hand and by mist
  std::optional<double> energy_kwh;  ///< of its outputs
};

struct CropYield {
  /// Fresh weight picked on 100 of dry substrate at the start, %; 100 is no bound: 176.3 % stand in
  /// AMB Express 7:129 (2017).
  std::optional<double> biological_efficiency_pct;
  std::optional<double> of_substrate_pct;  ///< kg picked on 100 kg of wet substrate
  std::optional<double> kg_m2;
  std::optional<double> water_l_kg;     ///< a kilo picked; nothing before the first
  std::optional<double> energy_kwh_kg;  ///< likewise
};

Result<CropYield> yield_of(const CropBasis& crop);

/// Dry mass of a wet substrate of a known moisture, 0..1 of the wet mass.
constexpr double dry_kg_of(double wet_kg, double moisture) { return wet_kg * (1.0 - moisture); }

}  // namespace tubwarden
