#include "core/fit/fan.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "core/climate/fresh_air.hpp"
#include "core/climate/run_gate.hpp"

namespace tubwarden::fit {
namespace {

constexpr double kCo2KgMol = 0.0440095;
constexpr double kGasConstant = 8.314462618;  // J/(mol K), CODATA 2018

double co2_g_l(Celsius t) { return 101325.0 * kCo2KgMol / (kGasConstant * (t.value + 273.15)); }

Duration rest_between(const RunLimits& limits) {
  return std::max(limits.shortest_rest, RunGate::kRestAfterLongest);
}

}  // namespace

double breath_g_h(double substrate_kg, double mushrooms_kg, Celsius t) {
  const double warmth = std::pow(kBreathQ10, (t.value - kBreathAtC) / 10.0);
  return warmth * (substrate_kg * kSubstrateCo2GKgH + mushrooms_kg * kMushroomsCo2GKgH);
}

LitresPerHour breath_l_h(double substrate_kg, double mushrooms_kg, Celsius t) {
  return {breath_g_h(substrate_kg, mushrooms_kg, t) / co2_g_l(t)};
}

double breath_w(double substrate_kg, double mushrooms_kg, Celsius t) {
  return breath_g_h(substrate_kg, mushrooms_kg, t) * kBreathKjPerG / 3.6;
}

std::optional<double> air_for_m3_h(LitresPerHour source, Ppm keep, Ppm outside) {
  if (keep.value <= outside.value) return std::nullopt;
  return source.value / 1000.0 / ((keep.value - outside.value) * 1e-6);
}

double duty_max(const RunLimits& limits) {
  if (limits.longest_run <= Duration{0}) return 1.0;
  const double run = seconds_of(limits.longest_run);
  double starts = 3600.0 / (run + seconds_of(rest_between(limits)));
  if (limits.starts_per_hour > 0) starts = std::min(starts, 1.0 * limits.starts_per_hour);
  return starts * run / 3600.0;
}

double changes_of_run(double m3_per_h, Duration run, Litres air) {
  ENSURE(air.value > 0.0);
  return m3_per_h * seconds_of(run) / 3600.0 * 1000.0 / air.value;
}

FloorNeed floor_need(const FreshAirFloor& floor, double m3_per_h, Litres air,
                     const RunLimits& limits) {
  ENSURE(floor.every > Duration{0});
  FloorNeed need;
  need.run = floor_run(floor.changes, air.value, m3_per_h);
  need.starts = 1;
  if (limits.longest_run > Duration{0}) {
    need.starts = std::max(
        1, static_cast<int>(std::ceil(seconds_of(need.run) / seconds_of(limits.longest_run))));
  }
  need.takes = need.run + (need.starts - 1) * rest_between(limits);
  need.starts_per_hour = need.starts * 3600.0 / seconds_of(floor.every);
  need.share = seconds_of(need.run) / seconds_of(floor.every);
  return need;
}

double floor_rate_m3_h(const FreshAirFloor& floor, Litres air) {
  ENSURE(floor.every > Duration{0});
  return floor.changes * air.value / 1000.0 / (seconds_of(floor.every) / 3600.0);
}

}  // namespace tubwarden::fit
