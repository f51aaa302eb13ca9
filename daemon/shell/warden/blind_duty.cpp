#include <algorithm>
#include <map>

#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

constexpr milliseconds kDayBack = hours(24);

}  // namespace

/// Time for which the daemon was away counts as rest: a share too small does no harm.
void Warden::State::give_days(const Air& air) {
  const ChamberPlan& chamber = air.chamber.plan();
  const bool any = std::any_of(chamber.actuators.begin(), chamber.actuators.end(),
                               [](const auto& a) { return a.blind == BlindRule::duty; });
  if (!any || !parts.clock.wall_is_set()) return;
  const WallTime to = parts.clock.wall();
  const WallTime from = to - kDayBack;
  // The readings are not asked about: one quantity in one width is the least that can be.
  parts.record.history({chamber.id, Quantity::humidity, from, to, kDayBack},
                       [this, id = chamber.id, from](const Result<History>& history) {
                         const auto found = airs.find(id);
                         if (!history.ok() || found == airs.end() || !found->second) return;
                         std::map<std::string, Duration> ran;
                         for (const RunRow& run : history->runs) {
                           const Duration before = std::max(from - run.began.wall, milliseconds(0));
                           const Duration lasted = std::max(run.lasted - before, Duration{0});
                           ran[run.actuator] += from_seconds(seconds_of(lasted) * run.level / kRun);
                         }
                         for (const ActuatorPlan& a :
                              std::vector<ActuatorPlan>(found->second->chamber.plan().actuators)) {
                           if (a.blind != BlindRule::duty) continue;
                           const double share =
                               seconds_of(ran[a.id]) / seconds_of(Duration(kDayBack));
                           step(*found->second, event::BlindKnown{a.id, std::min(share, 1.0)});
                         }
                       });
}

}  // namespace tubwarden
