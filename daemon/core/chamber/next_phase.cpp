// When the plan goes on to the next phase, and the climate that a phase keeps meanwhile.

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "base/text.hpp"
#include "core/chamber/chamber_state.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

/// With more between two turns nobody was awake to see what the air did.
constexpr Duration kSeenAtMost = minutes(5);

/// Nothing where the plan cannot go on: jars on a shelf become a tub by hand.
const PhasePlan* plan_of(const TubState& tub) {
  const PhasePlan* phase = tub.plan.profile ? tub.plan.profile->find(tub.phase.phase) : nullptr;
  const bool stays = phase != nullptr && tub.plan.is_shelf && phase->next != kPhaseGrain &&
                     phase->next != kPhaseEmpty;
  return stays ? nullptr : phase;
}

std::string due_text(const TubState& tub, const PhasePlan& phase, Instant now) {
  return fmt::format(
      "{0} is to go on from {1}, as {2}. Its profile goes on to {3}: "
      "tubwarden phase {0} {3}",
      tub.plan.id, phase.name, told(phase.next_plan, now - tub.phase.since), phase.next);
}

}  // namespace

/// By what was judged in the last turn, which held until now.
void Chamber::State::follow_kept(Instant now) {
  const Duration passed = std::min<Duration>(now - kept_followed, kSeenAtMost);
  kept_followed = now;
  if (passed <= Duration{0}) return;
  for (TubState& tub : tubs) {
    if (tub.phase.phase.empty() || tub.phase.phase == kPhaseEmpty) continue;
    for (Quantity q : kAllQuantities) {
      const QuantityState& state = of(q);
      if (!state.sensed) continue;
      tub.kept.of(q).add(state.sensed->value, state.sensed->at_least, state.kept, passed);
    }
    for (std::size_t i = 0; i < actuators.size(); ++i) {
      if (!actuators[i].usable || actuators[i].level == kRest) continue;
      tub.kept.ran(plan.actuators[i].id,
                   static_cast<double>(actuators[i].level) / kRun * seconds_of(passed));
    }
  }
}

void Chamber::State::judge_next(Effects& effects, Instant now) {
  const bool attended = hand(HandKind::attend) != nullptr;
  NextWatch::Values values;
  for (Quantity q : kAllQuantities) {
    const auto& sensed = of(q).sensed;
    if (sensed) values[index_of(q)] = {sensed->value, sensed->at_least};
  }
  for (TubState& tub : tubs) {
    const PhasePlan* phase = plan_of(tub);
    const auto tell = [&] {
      return ToldAlert{{tub.plan.id, kPhaseDueCause},
                       AlertRank::today,
                       tub.next_due && phase != nullptr
                           ? due_text(tub, *phase, now)
                           : fmt::format("{}: it has gone on.", tub.plan.id)};
    };
    if (attended) {
      tub.next.interrupt();
      keep_quiet(tub.next_alert);
      continue;
    }
    NextWatch::Verdict verdict;
    if (phase != nullptr) verdict = tub.next.judge(phase->next_plan, tub.phase.since, values, now);
    wake_by(effects, verdict.ask_again, now);
    tub.next_due = verdict.due;
    const bool goes =
        verdict.due && phase->next_plan.how == NextPlan::How::go && !tub.phase.asks_only;
    if (goes) {
      effects.phases_due.push_back(
          {tub.plan.id, phase->next, told(phase->next_plan, now - tub.phase.since)});
    }
    note(effects, tub.next_alert.judge(verdict.due && !goes, Duration{0}, Duration{0}, now),
         tub.next_alert, tell);
  }
}

const KeptSums& Chamber::kept(const std::string& tub) const {
  static const KeptSums none;
  for (const TubState& known : state_->tubs) {
    if (known.plan.id == tub) return known.kept;
  }
  return none;
}

KeptSums Chamber::take_kept(const std::string& tub, Instant now) {
  state_->follow_kept(now);
  for (TubState& known : state_->tubs) {
    if (known.plan.id == tub) return std::exchange(known.kept, {});
  }
  return {};
}

}  // namespace tubwarden
