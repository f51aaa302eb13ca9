#include <algorithm>
#include <utility>

#include "base/ensure.hpp"
#include "core/chamber/wish.hpp"

namespace tubwarden {

Wish resting(Why why) {
  Wish wish;
  wish.reason.why = why;
  return wish;
}

Wish safely(Why why, std::optional<Quantity> q) {
  Wish wish;
  wish.safe = true;
  wish.reason.why = why;
  wish.reason.quantity = q;
  return wish;
}

Wish by_ceiling(const Chamber::State& s, Why why, bool run) {
  Wish wish;
  wish.run = run;
  wish.cuts = !run;
  wish.reason.why = why;
  wish.reason.quantity = Quantity::substrate_temperature;
  std::optional<double> lowest;
  for (const TubState& tub : s.tubs) {
    if (!tub.ceiling_holds || !tub.ceiling_value) continue;
    const double ceiling = *tub.plan.substrate_ceiling_c;
    if (lowest && *lowest <= ceiling) continue;
    lowest = ceiling;
    wish.reason.value = *tub.ceiling_value;
    wish.reason.by_air = tub.ceiling_by_air;
    wish.reason.start = ceiling;
    wish.reason.stop = ceiling - kCeilingRelease;
  }
  return wish;
}

std::optional<Quantity> kept_temperature(const Chamber::State& s) {
  for (Quantity q : {Quantity::substrate_temperature, Quantity::air_temperature}) {
    if (s.of(q).kept) return q;
  }
  return std::nullopt;
}

namespace {

Wish by_band(const Chamber::State& s, std::optional<Quantity> q, Call wanted, Effect effect) {
  if (!q || !s.of(*q).kept) return resting(Why::not_kept);
  const QuantityState& state = s.of(*q);
  const KeptBand& kept = *state.kept;
  const bool raise = wanted == Call::raise;
  const auto past = [&] {  // raising never runs above high, lowering never below low
    return state.sensed &&
           (raise ? state.sensed->value > kept.band.high : state.sensed->value < kept.band.low);
  };
  if (raise ? !kept.raises : !kept.lowers) {
    Wish wish = resting(Why::not_kept);
    wish.cuts = effect != Effect::cool && past();
    return wish;
  }
  if (!state.sensed) return safely(Why::no_reading, q);
  Wish wish;
  wish.run = state.hysteresis.call() == wanted;
  wish.cuts = effect != Effect::cool && past();  // a compressor keeps its shortest run
  wish.reason.why = wish.run ? Why::called : Why::between_starts;
  wish.reason.quantity = q;
  wish.reason.value = state.sensed->value;
  wish.reason.start = raise ? kept.raise_start() : kept.lower_start();
  wish.reason.stop = kept.band.middle();
  return wish;
}

Wish opposed_to(const Chamber::State& s, Wish wish, Effect opponent) {
  if (!wish.run || !s.runs_anywhere(opponent)) return wish;
  wish.run = false;
  wish.cuts = true;
  wish.reason.why = Why::opposed;
  return wish;
}

Wish light_wish(const Chamber::State& s, const PhasePlan& phase, Effects& effects, Instant now) {
  if (!phase.light) return resting(Why::not_kept);
  if (!s.midnight) return safely(Why::clock_unset);
  constexpr Duration day = hours(24);
  const Duration of_day = ((now - *s.midnight) % day + day) % day;
  const Duration from = minutes(phase.light->from_minute);
  const Duration to = minutes(phase.light->to_minute);
  const bool on = from <= to ? of_day >= from && of_day < to : of_day >= from || of_day < to;
  const Duration next = on ? to : from;
  Wish wish;
  wish.run = on;
  wish.reason.why = on ? Why::light_on : Why::light_off;
  wish.reason.until = now + (next > of_day ? next - of_day : next - of_day + day);
  wake_by(effects, wish.reason.until, now);
  return wish;
}

Wish stir_wish(const Chamber::State& s) {
  for (Effect effect : {Effect::humidify, Effect::dehumidify, Effect::heat, Effect::cool}) {
    if (!s.runs_anywhere(effect)) continue;
    Wish wish;
    wish.run = true;
    wish.reason.why = Why::stir_with;
    return wish;
  }
  return resting(Why::stir_idle);
}

Wish phase_wish(Chamber::State& s, const PhasePlan& phase, const ActuatorPlan& plan,
                const ActuatorState& state, Effects& effects, Instant now) {
  switch (plan.effect) {
    case Effect::humidify:
      if (const auto dries = drying_wish(s, phase, effects, now)) return *dries;
      if (const auto held = dew_wish(s, state, s.by_portions(plan))) return *held;
      if (s.by_portions(plan)) return mist_wish(s, plan, state, effects, now);
      {
        Wish wish = by_band(s, Quantity::humidity, Call::raise, plan.effect);
        wish.reason.declined = s.declined(plan);
        return wish;
      }
    case Effect::dehumidify:
      return by_band(s, Quantity::humidity, Call::lower, plan.effect);
    case Effect::heat:
      return opposed_to(s,
                        s.by_duty(plan) ? duty_wish(s, plan, effects, now)
                                        : by_band(s, kept_temperature(s), Call::raise, plan.effect),
                        Effect::cool);
    case Effect::cool:
      return opposed_to(s,
                        s.by_duty(plan) ? duty_wish(s, plan, effects, now)
                                        : by_band(s, kept_temperature(s), Call::lower, plan.effect),
                        Effect::heat);
    case Effect::fresh_air:
      return fan_wish(s, &phase, plan, state, effects, now);
    case Effect::stir:
      return stir_wish(s);
    case Effect::light:
      return light_wish(s, phase, effects, now);
  }
  ENSURE(false);
}

/// By the phase alone. Where the leader's controls nothing, or is not known, another tub's ceiling
/// counts all the same.
Wish ruled_wish(Chamber::State& s, const PhasePlan* phase, const ActuatorPlan& plan,
                const ActuatorState& state, Effects& effects, Instant now) {
  const TubState* tub = s.leader();
  const bool empty = tub && tub->phase.phase == kPhaseEmpty;
  if (!phase && !empty) {
    if (!tub) return safely(s.tubs.empty() ? Why::nobody_here : Why::not_led);
    return safely(tub->phase.phase.empty() ? Why::not_confirmed : Why::phase_unknown);
  }
  if (s.ceiling_holds() && plan.effect == Effect::cool) {
    return opposed_to(s, by_ceiling(s, Why::ceiling_called, true), Effect::heat);
  }
  if (!empty) return phase_wish(s, *phase, plan, state, effects, now);
  Wish wish = plan.effect == Effect::fresh_air ? fan_wish(s, nullptr, plan, state, effects, now)
                                               : resting(Why::phase_empty);
  wish.cuts = !wish.run && plan.effect != Effect::cool;
  return wish;
}

/// Hands in the tub stand above all; a ceiling stands above a hand on one output, and that above
/// the phase.
Wish wish_for(Chamber::State& s, const PhasePlan* phase, const ActuatorPlan& plan,
              ActuatorState& state, Effects& effects, Instant now) {
  if (const auto attended = attended_wish(s)) return *attended;
  if (s.ceiling_holds() && (plan.effect == Effect::heat || plan.effect == Effect::light)) {
    return by_ceiling(s, Why::ceiling_locked, false);
  }
  Wish ruled = ruled_wish(s, phase, plan, state, effects, now);
  ruled = blind_wish(s, plan, state, ruled, effects, now);
  if (plan.effect == Effect::heat) ruled = opposed_to(s, ruled, Effect::cool);
  if (plan.effect == Effect::cool) ruled = opposed_to(s, ruled, Effect::heat);
  const auto handed = handed_wish(s, plan, now);
  const bool by_ceiling_called =
      ruled.reason.why == Why::ceiling_called || ruled.reason.master == FanMaster::ceiling;
  if (!handed || by_ceiling_called) return ruled;
  if (plan.effect == Effect::heat) return opposed_to(s, *handed, Effect::cool);
  if (plan.effect == Effect::cool) return opposed_to(s, *handed, Effect::heat);
  return *handed;
}

void perform(Chamber::State& s, std::size_t i, const Wish& wish, Effects& effects, Instant now) {
  ActuatorState& a = s.actuators[i];
  const ActuatorPlan& plan = s.plan.actuators[i];
  a.reason = wish.reason;
  a.reason.no_effect = s.no_effect.parts[i].holds;
  if (!a.usable) {
    a.reason = Reason{};
    a.reason.why = Why::unusable;
    return;
  }
  Level level = kRest;
  if (wish.safe) {
    level = plan.output.safe;
    a.gate.force(level > kRest, now);
  } else {
    // The driver has ended a portion that is over; what calls next is another run.
    const bool over = a.told && a.told->until && *a.told->until <= now && a.gate.running();
    const auto granted = a.gate.ask(wish.run && !over, wish.cuts || over, now);
    // Held by its shortest run, it stays at the level it has.
    if (granted.run) level = wish.run ? kRun : a.level;
    if (over && wish.run) wake_by(effects, now + Duration{1}, now);
    a.reason.lock = granted.lock;
    if (granted.lock != Lock::none) a.reason.locked_until = granted.until;
    wake_by(effects, granted.until, now);
  }
  s.stands(i, level, now);
  const bool decided = level == kRun && !wish.safe;
  const bool trial = decided && wish.run_for;
  const bool limited = decided && plan.limits.longest_run > Duration{0};
  std::optional<Instant> until;
  if (decided && wish.run) until = trial ? now + *wish.run_for : wish.run_until;
  // A trial that had to wait for its rest is no shorter for it than a run may be.
  if (until) until = std::max(*until, a.gate.since() + plan.limits.shortest_run);
  if (until && limited) until = std::min(*until, a.gate.since() + plan.limits.longest_run);
  wake_by(effects, until, now);
  const bool timed = until || limited;
  const ActuatorState::Told tell{level, timed, trial, until};
  if (a.told == tell) return;
  a.told = tell;
  const Duration run = until     ? *until - now
                       : limited ? plan.limits.longest_run - (now - a.gate.since())
                                 : Duration{0};
  effects.outputs.push_back({i, level, run, wish.safe});
}

/// Tells of a level or a reason that is another than before. A lock that comes and goes is none.
void note_decision(Chamber::State& s, std::size_t i, Effects& effects, Instant now) {
  ActuatorState& a = s.actuators[i];
  const ActuatorState::Decided next{a.level, a.level_since, a.reason.why, a.reason.master};
  const auto before = std::exchange(a.decided, next);
  if (before && before->level == next.level && before->since == next.since &&
      before->why == next.why && before->master == next.master) {
    return;
  }
  Decision decision{
      i,
      a.level,
      sentence(a.reason, s.plan.actuators[i], a.level, a.level_since, now, a.unusable_why, s.led()),
      {}};
  if (before && before->level > kRest && before->since != next.since) {
    decision.ended = Decision::Ended{before->level, before->since};
  }
  effects.decisions.push_back(std::move(decision));
}

/// What others look at is decided first: misting before the fan, heating and cooling that run
/// before those that wait for them, stirring last. A mister that doses answers the fan's dry air.
int turn_of(Effect effect, bool running, bool doses) {
  switch (effect) {
    case Effect::humidify:
      return doses ? 3 : 0;
    case Effect::dehumidify:
    case Effect::light:
      return 0;
    case Effect::heat:
    case Effect::cool:
      return running ? 0 : 1;
    case Effect::fresh_air:
      return 2;
    case Effect::stir:
      return 4;
  }
  ENSURE(false);
}

constexpr int kTurns = 5;

}  // namespace

void Chamber::State::decide(Effects& effects, Instant now) {
  const PhasePlan* phase = phase_plan();
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    actuators[i].turn = turn_of(plan.actuators[i].effect, actuators[i].gate.running(),
                                by_portions(plan.actuators[i]));
  }
  for (int turn = 0; turn < kTurns; ++turn) {
    for (std::size_t i = 0; i < actuators.size(); ++i) {
      if (actuators[i].turn != turn) continue;
      const Wish wish = wish_for(*this, phase, plan.actuators[i], actuators[i], effects, now);
      perform(*this, i, wish, effects, now);
      note_decision(*this, i, effects, now);
    }
  }
  std::stable_sort(
      effects.outputs.begin(), effects.outputs.end(),
      [](const OutputCommand& a, const OutputCommand& b) { return a.level < b.level; });
}

}  // namespace tubwarden
