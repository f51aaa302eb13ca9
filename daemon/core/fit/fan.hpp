// The fit check's sums of fresh air: what the crop breathes out, the air that takes it away, and
// what a fan can do within its limits.
// Threading: pure functions. Failure: nothing is returned where the figures allow no answer; ENSURE
// on volumes and rates that are not positive.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/air/units.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/climate/phase_plan.hpp"

namespace tubwarden::fit {

/// g CO2 an hour a kg of compost at 16 C: the middle of the 3 to 6 g/h a 100 kg in cropping of a
/// growers' forum that quotes a manual (bbs.emushroom.net tid 29312; weak, and the only one found).
inline constexpr double kSubstrateCo2GKgH = 0.045;
/// The same for mushrooms: 190 g a kg over 7.5 d from pin to pick (same source, weak).
inline constexpr double kMushroomsCo2GKgH = 1.056;
inline constexpr double kBreathAtC = 16.0;
/// The same text's rates give a Q10 of 1.6 to 3.4: a middle, as in the model.
inline constexpr double kBreathQ10 = 2.5;
/// kg of mushrooms that stand at once in a full flush, a kg of substrate (assumed: half of a whole
/// crop of 18 to 20 kg a 100 kg, Sharma 2019 as cited).
inline constexpr double kFlushKgPerKg = 0.1;
/// kJ of heat a g of CO2 (derived: glucose, 2805 kJ/mol).
inline constexpr double kBreathKjPerG = 10.62;

/// g CO2 an hour. 5 kg and 0.5 kg at 16 C: 0.753.
double breath_g_h(double substrate_kg, double mushrooms_kg, Celsius t);
/// The same by volume, an ideal gas at `t` and sea level. 5 kg and 0.5 kg at 16 C: 0.406 L/h.
LitresPerHour breath_l_h(double substrate_kg, double mushrooms_kg, Celsius t);
/// The heat that goes with it, W.
double breath_w(double substrate_kg, double mushrooms_kg, Celsius t);

/// Fresh air, m3/h, that holds `keep` against a source of pure CO2: Q = G / (C - C_outside).
/// Nothing where `keep` is not above `outside`.
std::optional<double> air_for_m3_h(LitresPerHour source, Ppm keep, Ppm outside);

/// The largest share of the time that an actuator can run within its limits, 0..1.
double duty_max(const RunLimits& limits);

/// Air changes that a run moves.
double changes_of_run(double m3_per_h, Duration run, Litres air);

/// What the fresh-air floor asks of one fan in each of its windows.
struct FloorNeed {
  Duration run{0};             ///< of the fan, in each window
  Duration takes{0};           ///< with the rests between runs that longest_run cuts
  int starts = 0;              ///< in each window
  double starts_per_hour = 0;  ///< of them in the steady state
  double share = 0;            ///< of the time the fan runs; above 1 where the window is too short
};
FloorNeed floor_need(const FreshAirFloor& floor, double m3_per_h, Litres air,
                     const RunLimits& limits);
/// The weakest fan, m3/h, that keeps the floor if nothing cuts its run.
double floor_rate_m3_h(const FreshAirFloor& floor, Litres air);

}  // namespace tubwarden::fit
