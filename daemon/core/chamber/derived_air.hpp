// Dew point, humidity ratio and drying power of one air: kept through the humidity, and warned of.
// Private to core/chamber. Threading: one owner. Failure: none; a missing part gives no value.
#pragma once

#include <array>
#include <optional>

#include "core/air/derived.hpp"
#include "core/alert/alert.hpp"
#include "core/climate/phase_plan.hpp"

namespace tubwarden {

/// The kept humidity leaves this to the saturated air, in % RH: above it nothing can be told.
inline constexpr double kDerivedHumidityMost = 99.0;
/// And is at least this wide, in % RH, or nothing could be kept in it.
inline constexpr double kDerivedWidthLeast = 2.0;

struct DerivedState {
  AlertTimer low, high;
};
using DerivedStates = std::array<DerivedState, kDerived>;

/// Which of them the phase keeps, if any.
std::optional<Derived> kept_derived(const PhasePlan& phase);

/// The band of relative humidity that a band of `d` means at these temperatures, within 0 and
/// kDerivedHumidityMost. Nothing where a temperature is missing.
std::optional<Band> humidity_band(Derived d, const Band& band, const AirParts& parts);

}  // namespace tubwarden
