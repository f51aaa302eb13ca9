// Units as types, so that a percentage cannot stand where a temperature is meant.
// Threading: plain values. Failure: none; the number itself is not checked.
#pragma once

#include <compare>

namespace tubwarden {

struct Celsius {
  double value = 0.0;
  auto operator<=>(const Celsius&) const = default;
};
/// Relative humidity over water, 0..100.
struct Percent {
  double value = 0.0;
  auto operator<=>(const Percent&) const = default;
};
struct Pascal {
  double value = 0.0;
  auto operator<=>(const Pascal&) const = default;
};
/// Parts per million by volume.
struct Ppm {
  double value = 0.0;
  auto operator<=>(const Ppm&) const = default;
};
/// Air changes an hour.
struct PerHour {
  double value = 0.0;
  auto operator<=>(const PerHour&) const = default;
};
struct Litres {
  double value = 0.0;
  auto operator<=>(const Litres&) const = default;
};
struct LitresPerHour {
  double value = 0.0;
  auto operator<=>(const LitresPerHour&) const = default;
};

}  // namespace tubwarden
