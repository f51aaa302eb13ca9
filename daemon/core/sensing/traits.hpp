// What a quantity can do in a small air, and what its sensors are worth, where the configuration
// does not say. Threading: constants. Failure: none.
#pragma once

#include "base/ensure.hpp"
#include "base/quantity.hpp"

namespace tubwarden {

/// In the quantity's kept unit. The figures are common practice, no source, with two of them
/// reckoned: 100 g/h of mist lift 60 L at 17 C by 3.2 % RH a second, and a humidity sensor that
/// answers with a time constant of 8 s follows any step of 50 % by at most 6 % in its first second.
struct QuantityTraits {
  double jump;            ///< a change that two readings may show however close they are
  double fastest_minute;  ///< and so much more for each minute between them
  double accuracy;        ///< plus or minus, for two sensors of one air side by side
  double quantum;         ///< the smallest change that a coarse sensor tells
};

constexpr QuantityTraits traits_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return {15.0, 180.0, 4.0, 1.0};
    case Quantity::air_temperature:
      return {3.0, 6.0, 1.0, 0.5};
    case Quantity::substrate_temperature:
      return {2.0, 1.0, 1.5, 0.5};
    case Quantity::co2:
      return {1000.0, 3000.0, 150.0, 50.0};
  }
  ENSURE(false);
}

}  // namespace tubwarden
