#include "core/air/derived.hpp"

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"

namespace tubwarden {

std::string_view name_of(Derived d) {
  switch (d) {
    case Derived::dew_point:
      return "dew_point";
    case Derived::humidity_ratio:
      return "humidity_ratio";
    case Derived::bed_drying:
      return "bed_drying";
  }
  ENSURE(false);
}

std::string_view word_of(Derived d) {
  switch (d) {
    case Derived::dew_point:
      return "dew point";
    case Derived::humidity_ratio:
      return "humidity ratio";
    case Derived::bed_drying:
      return "drying power at the bed";
  }
  ENSURE(false);
}

std::string_view unit_of(Derived d) {
  switch (d) {
    case Derived::dew_point:
      return "C";
    case Derived::humidity_ratio:
      return "g/kg";
    case Derived::bed_drying:
      return "kPa";
  }
  ENSURE(false);
}

std::string_view member_of(Derived d) {
  switch (d) {
    case Derived::dew_point:
      return "dew_point_c";
    case Derived::humidity_ratio:
      return "humidity_ratio_g_kg";
    case Derived::bed_drying:
      return "bed_drying_kpa";
  }
  ENSURE(false);
}

std::optional<double> derived(Derived d, const AirParts& parts) {
  if (!parts.humidity || !parts.air) return std::nullopt;
  switch (d) {
    case Derived::dew_point: {
      const auto dew = dew_point(vapour_pressure(*parts.air, *parts.humidity));
      return dew ? std::optional(dew->value) : std::nullopt;
    }
    case Derived::humidity_ratio:
      return 1000.0 * humidity_ratio(*parts.air, *parts.humidity);
    case Derived::bed_drying:
      if (!parts.substrate) return std::nullopt;
      return vapour_pressure_deficit(*parts.substrate, *parts.air, *parts.humidity).value / 1000.0;
  }
  ENSURE(false);
}

}  // namespace tubwarden
