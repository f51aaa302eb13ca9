#include "base/quantity.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "humidity";
    case Quantity::air_temperature:
      return "air_temperature";
    case Quantity::substrate_temperature:
      return "substrate_temperature";
    case Quantity::co2:
      return "co2";
  }
  ENSURE(false);
}

std::string_view word_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "humidity";
    case Quantity::air_temperature:
      return "air temperature";
    case Quantity::substrate_temperature:
      return "substrate temperature";
    case Quantity::co2:
      return "CO2";
  }
  ENSURE(false);
}

std::string_view unit_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "%";
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return "C";
    case Quantity::co2:
      return "ppm";
  }
  ENSURE(false);
}

std::string_view member_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "humidity_pct";
    case Quantity::air_temperature:
      return "temperature_c";
    case Quantity::substrate_temperature:
      return "substrate_c";
    case Quantity::co2:
      return "co2_ppm";
  }
  ENSURE(false);
}

}  // namespace tubwarden
