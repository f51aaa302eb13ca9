// Portions: how long a run of a mister or fan is to be, so that the air ends where it should.
// Hysteresis says when; here is how much. Sums only; what is learned stands in mist_learning.hpp.
// Threading: pure functions. Failure: nothing is returned where no run would help.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/air/units.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/climate/hysteresis.hpp"

namespace tubwarden {

/// How an air is controlled: `control:` of a chamber.
enum class Control {
  portions,   ///< runs as long as the air needs, by what a run moves
  hysteresis  ///< runs from the start point to the middle
};
/// The key of configuration: "portions", "hysteresis".
std::string_view name_of(Control control);

/// A humidity sensor coarser (% RH) or slower (s between readings) tells too little to dose by.
inline constexpr double kCoarsestPct = 2.0;
inline constexpr double kSlowestS = 60.0;

/// % RH that a second of `g_per_h` lifts still air by: the sum of core/fit/water. litres > 0.
double mist_prior(double g_per_h, Litres air, Celsius t);

/// The shortest time between two starts that spends the starts of an hour evenly: none while less
/// than half of them are spent, growing to more than their even spacing as the last is near.
Duration pace(const RunLimits& limits, int starts_last_hour);

/// What the air is expected to do, in % RH.
struct MistAsk {
  double now = 0.0;        ///< the value, as far as known
  double settled = 0.0;    ///< where it will be when a mist begun now has settled, without one
  double lowest = 0.0;     ///< of what it does until the next mist could have settled, without one
  double highest = 0.0;    ///< ... likewise
  double next = 0.0;       ///< where it is then
  double gain = 1.0;       ///< % RH that a second of mist lifts the settled air; above 0
  double gain_next = 1.0;  ///< ... what of it is there when the next mist could have settled
  bool fed_forward = false;  ///< a known disturbance acts: may start anywhere below the middle
};
struct Portion {
  Duration run{0};
  double aim = 0.0;  ///< where it is expected to carry the air, % RH
};
/// Nothing where none is called for, or where the shortest run would carry the air past `high`.
std::optional<Portion> mist_portion(const MistAsk& ask, const KeptBand& kept,
                                    const RunLimits& limits);

/// The time in which exchange brings `value` down to `to`, with `drift` against it; nothing where
/// it never does. exchange a second, above 0.
std::optional<Duration> exchange_time(double value, double to, double outside, double exchange,
                                      double drift);

}  // namespace tubwarden
