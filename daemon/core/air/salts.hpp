// The humidity that the air over a saturated salt solution settles at: the fixed points that a
// hygrometer is checked against. Threading: pure functions, constant data. Failure: no value
// outside the temperatures a salt is given for.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "core/air/units.hpp"

namespace tubwarden {

enum class Salt {
  lithium_chloride,
  magnesium_chloride,
  sodium_chloride,
  potassium_chloride,
  potassium_sulfate
};

struct SaltTraits {
  Salt salt;
  std::string_view formula;  ///< the word at the command line: "NaCl"
  std::string_view name;     ///< "table salt without additives (sodium chloride)"
  std::string_view caution;  ///< one sentence
};
std::span<const SaltTraits> salts();
/// By formula, upper and lower case alike.
std::optional<Salt> salt_named(std::string_view formula);

struct FixedPoint {
  Percent humidity;
  double uncertainty = 0.0;  ///< plus or minus, % RH
};

inline constexpr Celsius kSaltsFrom{10.0};
inline constexpr Celsius kSaltsTo{30.0};

/// L. Greenspan, "Humidity Fixed Points of Binary Saturated Aqueous Solutions", J. Res. NBS 81A(1),
/// 1977, 89-96: his polynomials; the uncertainty between the table's temperatures is the larger of
/// its neighbours'. Nothing outside kSaltsFrom..kSaltsTo.
std::optional<FixedPoint> over_salt(Salt salt, Celsius t);

}  // namespace tubwarden
