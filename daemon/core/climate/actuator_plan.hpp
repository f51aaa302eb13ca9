// What the configuration says of an actuator: what it does to the air, and within which limits.
// Threading: plain values. Failure: none; settings has checked what is here.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

enum class Effect { humidify, dehumidify, heat, cool, fresh_air, stir, light };

/// The key of configuration: "humidify", "fresh_air", ...
std::string_view name_of(Effect effect);

/// Limits have the last word over any decision. Zero means no limit of that kind.
struct RunLimits {
  Duration shortest_run{0};
  Duration shortest_rest{0};
  Duration longest_run{0};
  int starts_per_hour = 0;
  bool operator==(const RunLimits&) const = default;
};

/// The limits of an effect when the configuration names none (details in the option table).
RunLimits default_limits(Effect effect);

/// How a heater or cooler that serves the substrate runs: a share of each period, not above `most`.
struct DutyPlan {
  Duration period = minutes(20);
  Level most = kRun;
  bool operator==(const DutyPlan&) const = default;
};

/// What an actuator does while its quantity has no trusted reading.
enum class BlindRule {
  safe,  ///< stands at its safe level
  duty,  ///< repeats the share of the time that it ran during the last day, capped
};

struct ActuatorPlan {
  std::string id;
  Effect effect = Effect::humidify;
  /// humidify, dehumidify: g/h; fresh_air, stir: m3/h; heat, cool, light: W.
  std::optional<double> rate;
  std::optional<double> power_w;  ///< what it draws; of heat and light it is the rate, if not given
  std::optional<double> tank_ml;  ///< what a mister's tank holds
  RunLimits limits;
  DutyPlan duty;
  BlindRule blind = BlindRule::safe;
  bool cut_out = false;  ///< a heater: something independent cuts it off
  OutputPlan output;
};

}  // namespace tubwarden
