#include "core/chamber/chamber.hpp"

#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

/// With nothing to wait for a chamber still looks around this often.
constexpr Duration kLongestSleep = minutes(5);

}  // namespace

Chamber::Chamber(ChamberPlan plan, std::vector<TubPlan> tubs, RoomPlan room, Instant now)
    : state_(std::make_unique<State>(std::move(plan), std::move(tubs), std::move(room), now)) {}
Chamber::~Chamber() = default;
Chamber::Chamber(Chamber&&) noexcept = default;
Chamber& Chamber::operator=(Chamber&&) noexcept = default;

Effects Chamber::State::turn(Instant now) {
  Effects effects;
  effects.next_wake = now + kLongestSleep;
  end_hands(effects, now);
  judge(effects, now);
  decide(effects, now);
  alert(effects, now);
  judge_next(effects, now);
  tell_learned(effects, now);
  tell_duty(effects, now);
  for (const AlertChange& change : effects.alerts) {
    std::erase_if(standing, [&](const Alert& a) { return a.key == change.alert.key; });
    if (change.raised) standing.push_back(change.alert);
  }
  wake_by(effects, air.next_staling(now), now);
  for (const RoomValue& value : room) wake_by(effects, value.stales_at(), now);
  return effects;
}

Effects Chamber::step(const Event& event, Instant now) {
  state_->count_moved_air(now);
  state_->follow_heat(now);
  state_->follow_day(now);
  state_->follow_air(now);
  state_->keep_book(now);
  state_->follow_kept(now);
  if (!std::holds_alternative<event::Tick>(event)) state_->follow_effects(now);
  state_->absorb(event, now);
  return state_->turn(now);
}

Effects Chamber::adopt(ChamberPlan plan, std::vector<TubPlan> tubs, RoomPlan room, Instant now,
                       const std::vector<TubPhase>& phases) {
  state_->count_moved_air(now);
  state_->follow_heat(now);
  state_->follow_day(now);
  state_->follow_air(now);
  state_->keep_book(now);
  state_->follow_kept(now);
  state_->follow_effects(now);
  state_->take_plan(std::move(plan), std::move(tubs), std::move(room), now);
  for (const TubPhase& phase : phases) state_->take_phase(phase, now);
  return state_->turn(now);
}

const ChamberPlan& Chamber::plan() const { return state_->plan; }
const std::vector<TubPlan>& Chamber::tubs() const { return state_->tub_plans; }

const std::vector<Hand>& Chamber::hands() const { return state_->hands; }

const std::string& Chamber::phase() const {
  static const std::string none;
  const TubState* leader = state_->leader();
  return leader ? leader->phase.phase : none;
}

std::array<QuantityView, kQuantities> Chamber::air(Instant now) const {
  std::array<QuantityView, kQuantities> views;
  const PhasePlan* phase = state_->phase_plan();
  for (Quantity q : kAllQuantities) {
    QuantityView& view = views[index_of(q)];
    const QuantityState& state = state_->of(q);
    const auto usable = state_->air.usable(q, now);
    const auto shown = usable ? usable : state_->air.newest(q);
    if (shown) {
      view.value = shown->value;
      view.seen = shown->seen;
      view.at_least = shown->at_least;
    }
    view.usable = usable.has_value();
    if (state.kept) view.keep = state.kept->band;
    if (const auto leaving = state_->leaving(q, now)) {
      view.leaves_in = leaving->at - now;
      view.leaves_up = leaving->up;
    }
    if (!phase || !phase->of(q) || !phase->of(q)->warn) continue;
    const Warn& warn = *phase->of(q)->warn;
    if (warn.below) view.warn_below = *warn.below + state.glide_shift;
    if (warn.above) view.warn_above = *warn.above + state.glide_shift;
  }
  return views;
}

std::vector<ActuatorView> Chamber::actuators(Instant now) const {
  std::vector<ActuatorView> views;
  for (std::size_t i = 0; i < state_->actuators.size(); ++i) {
    const ActuatorState& a = state_->actuators[i];
    const ActuatorPlan& plan = state_->plan.actuators[i];
    views.push_back(
        {plan.id, plan.effect, a.level, a.level_since, a.gate.starts_last_hour(now),
         sentence(a.reason, plan, a.level, a.level_since, now, a.unusable_why, state_->led())});
  }
  return views;
}

}  // namespace tubwarden
