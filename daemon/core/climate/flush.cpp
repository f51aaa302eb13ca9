#include "core/climate/flush.hpp"

#include <algorithm>

namespace tubwarden {

std::string loop_of(const Profile& profile, const std::string& phase) {
  const PhasePlan* plan = profile.find(phase);
  if (plan != nullptr && !plan->stage_of.empty()) return plan->stage_of;
  if (phase == kPhaseFruiting) return phase;
  const bool heads =
      std::any_of(profile.phases.begin(), profile.phases.end(),
                  [&](const PhasePlan& p) { return !phase.empty() && p.stage_of == phase; });
  return heads ? phase : "";
}

int flush_in(const Profile& profile, const std::string& phase,
             const std::map<std::string, int>& entered) {
  const std::string loop = loop_of(profile, phase);
  if (loop.empty()) return 0;
  const auto found = entered.find(loop);
  // A loop entered by a later stage is in its first flush all the same.
  return std::max(1, found == entered.end() ? 0 : found->second);
}

}  // namespace tubwarden
