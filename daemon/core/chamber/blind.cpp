// Actuators whose quantity has no trusted reading, by their blind rule.

#include <algorithm>

#include "core/chamber/wish.hpp"

namespace tubwarden {
namespace {

/// A heater warms on when its sensor has gone: something else must tell when it is too much.
bool watched_heat(const Chamber::State& s, const ActuatorPlan& plan, Instant now) {
  if (plan.effect != Effect::heat || plan.cut_out) return true;
  const bool ceiling = std::any_of(s.tubs.begin(), s.tubs.end(), [](const TubState& t) {
    return t.plan.substrate_ceiling_c && t.phase.phase != kPhaseEmpty;
  });
  return ceiling && (s.air.hottest(Quantity::substrate_temperature, now) ||
                     s.air.hottest(Quantity::air_temperature, now));
}

/// Whether the phase asked something of the actuator, by readings.
bool serves(Why why) {
  return why != Why::not_kept && why != Why::no_reading && why != Why::unusable;
}

}  // namespace

void Chamber::State::follow_day(Instant now) {
  const Duration passed = now - day_followed;
  day_followed = now;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    ActuatorState& a = actuators[i];
    if (plan.actuators[i].blind != BlindRule::duty || !a.usable) continue;
    const std::string& id = plan.actuators[i].id;
    const bool by_hand =
        hand(HandKind::attend) || hand(HandKind::keep_at, id) || hand(HandKind::trial, id);
    a.day.add(passed, a.level, !a.blind && !by_hand && phase_plan() && serves(a.reason.why));
  }
}

void Chamber::State::take_known(const event::BlindKnown& known) {
  if (!(known.share >= 0.0 && known.share <= 1.0)) return;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (plan.actuators[i].id == known.actuator) actuators[i].day.known(known.share);
  }
}

Wish blind_wish(Chamber::State& s, const ActuatorPlan& plan, ActuatorState& state,
                const Wish& ruled, Effects& effects, Instant now) {
  const bool blind = ruled.safe && ruled.reason.why == Why::no_reading;
  if (!blind || plan.blind != BlindRule::duty) {
    state.blind.reset();
    state.blind_until.reset();
    return ruled;
  }
  Wish wish = ruled;
  const auto learned = state.day.share();
  const double repeats = blind_share(plan.effect, learned.value_or(0.0));
  if (!state.blind) {
    state.blind = BlindSpell{now, now, repeats, learned.value_or(0.0), state.day.ran()};
  }
  // What an earlier run of the daemon knew may come later than the need of it.
  if (state.blind->share <= 0.0 && repeats > 0.0) {
    state.blind = BlindSpell{state.blind->since, now, repeats, *learned, state.day.ran()};
  }
  const BlindSpell& spell = *state.blind;
  wish.reason.since = spell.since;
  wish.reason.value = learned ? 0.0 : -1.0;
  if (now >= spell.since + kBlindLongest) {
    wish.reason.why = Why::blind_over;
    return wish;
  }
  wake_by(effects, spell.since + kBlindLongest, now);
  const auto run = blind_run(plan.effect, plan.limits, spell.share);
  if (!run) {
    wish.reason.why = Why::blind_unlearned;
    return wish;
  }
  if (!watched_heat(s, plan, now)) {
    wish.reason.why = Why::blind_unwatched;
    return wish;
  }
  wish.safe = false;
  wish.reason.why = Why::blind_duty;
  wish.reason.value = 100.0 * spell.share;
  wish.reason.start = 100.0 * spell.learned;
  if (state.blind_until && state.gate.running() && now < *state.blind_until) {
    wish.run = true;
    wish.run_until = state.blind_until;
    return wish;
  }
  state.blind_until.reset();
  const BlindAsk ask = ask_blind(spell, *run, state.day.ran(), now);
  // What hands or limits kept it from is not made up for.
  const Duration period = from_seconds(seconds_of(*run) / spell.share);
  if (ask.run && now > ask.next + period) {
    state.blind =
        BlindSpell{spell.since, now - period, spell.share, spell.learned, state.day.ran()};
  }
  wish.run = ask.run;
  if (ask.run) {
    state.blind_until = now + *run;
    wish.run_until = state.blind_until;
  } else {
    wish.reason.until = ask.next;
    wake_by(effects, ask.next, now);
  }
  return wish;
}

}  // namespace tubwarden
