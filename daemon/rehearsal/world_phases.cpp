// Phases in a rehearsed world: entered at their time, as a grower would, or when the plan of the
// chamber under rehearsal goes on by itself.
#include <algorithm>
#include <set>
#include <utility>

#include "rehearsal/world_impl.hpp"

namespace tubwarden::rehearsal {

/// The next step of each tub counts; one that waits for its plan holds up those behind it.
void World::Impl::foresee_phase() {
  phase_at.reset();
  std::set<std::string> seen;
  for (const PhaseStep& step : ahead) {
    if (!seen.insert(step.tub).second || step.by_plan) continue;
    const Instant at = start + step.at;
    phase_at = phase_at ? std::min(*phase_at, at) : at;
  }
}

void World::Impl::take_phases() {
  while (!hung && phase_at && *phase_at <= now) {
    std::set<std::string> seen;
    const auto step = std::find_if(ahead.begin(), ahead.end(), [&](const PhaseStep& s) {
      return seen.insert(s.tub).second && !s.by_plan && start + s.at <= now;
    });
    if (step == ahead.end()) return;
    PhaseStep taken = *step;
    ahead.erase(step);
    enter(std::move(taken));
  }
}

/// What the chamber said in this turn: its tub goes on as the shell would have it.
void World::Impl::follow_plans() {
  for (const PhaseDue& told : std::exchange(plans_due, {})) {
    const auto step = std::find_if(ahead.begin(), ahead.end(),
                                   [&](const PhaseStep& s) { return s.tub == told.tub; });
    if (step == ahead.end() || !step->by_plan || step->phase != told.to) continue;
    PhaseStep taken = *step;
    ahead.erase(step);
    enter(std::move(taken));
  }
}

void World::Impl::enter(PhaseStep step) {
  const Duration late = now - start - step.at;
  step.at = now - start;
  entered.push_back(step);
  if (late != Duration{0}) {
    for (PhaseStep& later : ahead) {
      if (later.tub == step.tub) later.at += late;
    }
    std::stable_sort(ahead.begin(), ahead.end(),
                     [](const PhaseStep& a, const PhaseStep& b) { return a.at < b.at; });
    if (plan.beds_by && step.by_plan) {
      std::vector<PhaseStep> all = entered;
      all.insert(all.end(), ahead.begin(), ahead.end());
      plan.beds = plan.beds_by(all);
      next_bed = static_cast<std::size_t>(
          std::find_if(plan.beds.begin(), plan.beds.end(),
                       [&](const BedStep& bed) { return start + bed.at >= now; }) -
          plan.beds.begin());
      take_beds();
    }
  }
  foresee_phase();
  record[step.tub] = {step.tub, step.phase, now, {}, false};
  catch_up();
  if (observer != nullptr) observer->entered(now - start, step.tub, step.phase);
  if (!daemon_away) enter_phase(record[step.tub]);
}

}  // namespace tubwarden::rehearsal
