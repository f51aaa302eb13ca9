#include "core/climate/actuator_plan.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(Effect effect) {
  switch (effect) {
    case Effect::humidify:
      return "humidify";
    case Effect::dehumidify:
      return "dehumidify";
    case Effect::heat:
      return "heat";
    case Effect::cool:
      return "cool";
    case Effect::fresh_air:
      return "fresh_air";
    case Effect::stir:
      return "stir";
    case Effect::light:
      return "light";
  }
  ENSURE(false);
}

// Common practice, no source: a compressor wants minutes between starts, a relay and a fan seconds,
// and a mister is never left running on the word of one sensor.
RunLimits default_limits(Effect effect) {
  switch (effect) {
    case Effect::humidify:
      return {seconds(1), seconds(20), seconds(60), 60};
    case Effect::dehumidify:
      return {minutes(2), minutes(3), Duration{0}, 10};
    case Effect::heat:
      return {seconds(30), seconds(30), Duration{0}, 30};
    case Effect::cool:
      return {minutes(3), minutes(5), Duration{0}, 6};
    case Effect::fresh_air:
      return {seconds(10), seconds(10), Duration{0}, 60};
    case Effect::stir:
      return {seconds(10), seconds(10), Duration{0}, 60};
    case Effect::light:
      return {Duration{0}, Duration{0}, Duration{0}, 0};
  }
  ENSURE(false);
}

}  // namespace tubwarden
