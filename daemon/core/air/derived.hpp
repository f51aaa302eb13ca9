// What follows from humidity and temperatures together: dew point, humidity ratio, and how hard the
// air draws water from the bed. Threading: pure functions, constant data. Failure: nothing where a
// part is missing or makes no sense.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "core/air/units.hpp"

namespace tubwarden {

/// `bed_drying` is the vapour pressure deficit, in kPa as the trade gives it, between the wet
/// casing at the substrate's temperature and the air: 0 dries nothing, below 0 the casing takes up
/// dew.
enum class Derived : std::uint8_t { dew_point, humidity_ratio, bed_drying };

inline constexpr std::size_t kDerived = 3;
inline constexpr std::array<Derived, kDerived> kAllDerived = {
    Derived::dew_point, Derived::humidity_ratio, Derived::bed_drying};

constexpr std::size_t index_of(Derived d) { return static_cast<std::size_t>(d); }

/// The key of configuration and control socket: "dew_point".
std::string_view name_of(Derived d);
/// The word in a sentence: "dew point", "humidity ratio", "drying power at the bed".
std::string_view word_of(Derived d);
/// "C", "g/kg", "kPa".
std::string_view unit_of(Derived d);
/// A topic member with its unit last: "dew_point_c", "humidity_ratio_g_kg", "bed_drying_kpa".
std::string_view member_of(Derived d);

struct AirParts {
  std::optional<Percent> humidity;
  std::optional<Celsius> air, substrate;
};
/// The value in the unit above, or nothing.
std::optional<double> derived(Derived d, const AirParts& parts);

}  // namespace tubwarden
