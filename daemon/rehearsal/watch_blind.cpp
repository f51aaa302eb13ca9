// What the blind rule `duty` allows, by the watch's own account.

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "rehearsal/watch.hpp"

namespace tubwarden::rehearsal {
namespace {

/// Its cap, what a share is learned from, and runs that may be owed.
constexpr double kBlindMost = 0.3;
constexpr double kBlindLearnedS = 6 * 3600.0;
constexpr double kBlindRuns = 3.0;

}  // namespace

/// How long it ran, and since when it has been blind.
void Watch::account(std::size_t actuator, Instant now) {
  Output& o = outputs_[actuator];
  const auto q = serves(plan_.actuators[actuator].effect);
  const bool blind = q && !fresh(*q, now) && !hand_on(actuator, now) && !attended(now);
  o.ran += from_seconds(seconds_of(now - o.looked) * o.looked_level / kRun);
  o.looked = now;
  o.looked_level = o.level;
  if (!blind) {
    o.blind_since.reset();
  } else if (!o.blind_since) {
    o.blind_since = now;
    o.ran_before = o.ran;
  }
}

/// A blind one repeats no more than it ran before, nor than its cap; its runs are whole.
void Watch::look_at_blind(std::size_t actuator, Quantity q, Instant now) {
  const ActuatorPlan& plan = plan_.actuators[actuator];
  const Output& o = outputs_[actuator];
  if (o.by_safe || !o.blind_since) return;  // a hand that rests it repeats nothing
  const double share = std::min(kBlindMost, seconds_of(o.ran_before) / kBlindLearnedS);
  double period_s = 600.0;
  if (plan.limits.starts_per_hour > 0) {
    period_s = std::max(period_s, 3600.0 / plan.limits.starts_per_hour);
  }
  const double run_s = std::max(seconds_of(plan.limits.shortest_run), share * period_s);
  const double ran_s = seconds_of(o.ran - o.ran_before);
  const double most_s = share * seconds_of(now - *o.blind_since) + kBlindRuns * run_s + 1.0;
  if (ran_s <= most_s) return;
  say(actuator,
      fmt::format("ran for {:.1f} s without a fresh reading of {} in {}, its rule allows {:.1f} s",
                  ran_s, word_of(q), spoken(now - *o.blind_since), most_s),
      now);
}

}  // namespace tubwarden::rehearsal
