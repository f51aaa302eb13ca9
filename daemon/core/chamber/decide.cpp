#include <algorithm>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

/// A wish for one actuator, before limits and locks.
struct Wish {
  bool run = false;
  bool safe = false;     ///< not decided: its safe level
  bool yields = false;   ///< a run may be cut inside its shortest run
  bool at_once = false;  ///< rests now, whatever the shortest run says
  Reason reason;
};

Wish safely(Why why, std::optional<Quantity> q = {}) {
  Wish wish;
  wish.safe = true;
  wish.reason.why = why;
  wish.reason.quantity = q;
  return wish;
}

Wish resting(Why why) {
  Wish wish;
  wish.at_once = why != Why::between_starts && why != Why::fan_idle;
  wish.reason.why = why;
  return wish;
}

/// The temperature a heater or cooler serves: the one the phase keeps (settings refuses both).
std::optional<Quantity> kept_temperature(const Chamber::State& s) {
  for (Quantity q : {Quantity::substrate_temperature, Quantity::air_temperature}) {
    if (s.of(q).kept) return q;
  }
  return std::nullopt;
}

Wish by_band(const Chamber::State& s, std::optional<Quantity> q, Call wanted, Effect effect) {
  if (!q || !s.of(*q).kept) return resting(Why::not_kept);
  const QuantityState& state = s.of(*q);
  const KeptBand& kept = *state.kept;
  const bool raise = wanted == Call::raise;
  if (raise ? !kept.raises : !kept.lowers) return resting(Why::not_kept);
  if (!state.sensed) return safely(Why::no_reading, q);
  Wish wish;
  wish.run = state.hysteresis.call() == wanted;
  // Raising never runs above high, lowering never below low; a compressor keeps its shortest run.
  wish.yields = effect != Effect::cool && (raise ? state.sensed->value > kept.band.high
                                                 : state.sensed->value < kept.band.low);
  wish.reason.why = wish.run ? Why::called : Why::between_starts;
  wish.reason.quantity = q;
  wish.reason.value = state.sensed->value;
  wish.reason.start = raise ? kept.raise_start() : kept.lower_start();
  wish.reason.stop = kept.band.middle();
  return wish;
}

Wish by_ceiling(const Chamber::State& s, Why why, bool run) {
  Wish wish;
  wish.run = run;
  wish.at_once = !run;
  wish.reason.why = why;
  for (const TubState& tub : s.tubs) {
    if (!tub.ceiling_holds) continue;
    wish.reason.value = tub.ceiling_value.value_or(*tub.plan.substrate_ceiling_c);
    wish.reason.start = *tub.plan.substrate_ceiling_c;
    wish.reason.stop = wish.reason.start - kCeilingRelease;
  }
  return wish;
}

bool runs_anywhere(const Chamber::State& s, Effect effect) {
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    if (s.plan.actuators[i].effect == effect && s.actuators[i].gate.running()) return true;
  }
  return false;
}

Wish opposed_to(const Chamber::State& s, Wish wish, Effect opponent) {
  if (!wish.run || !runs_anywhere(s, opponent)) return wish;
  wish.run = false;
  wish.at_once = true;
  wish.reason.why = Why::opposed;
  return wish;
}

// --- the fan ------------------------------------------------------------------------------------

struct FanTalk {
  FanSays says{};
  std::array<Reason, kFanMasters> reasons{};
  bool blind = false;  ///< a master would have a say, and has no reading
  std::optional<Quantity> blind_for;
  std::optional<Instant> wake;
  Duration floor_owed{0};
  std::optional<Instant> floor_until;

  void say(FanMaster master, Say what, Quantity q, double value, double start, double stop) {
    const auto i = static_cast<std::size_t>(master);
    says[i] = what;
    reasons[i].quantity = q;
    reasons[i].value = value;
    reasons[i].start = start;
    reasons[i].stop = stop;
  }
};

void ask_ceiling(const Chamber::State& s, FanTalk& talk, Instant now) {
  const auto room = s.room_of(event::RoomQuantity::temperature, now);
  if (!s.ceiling_holds() || !room) return;
  const auto& air = s.of(Quantity::air_temperature).sensed;
  const Wish called = by_ceiling(s, Why::ceiling_called, true);
  const double warm = air ? air->value : called.reason.value;
  if (*room > warm - kRoomHelps) return;
  talk.say(FanMaster::ceiling, Say::calls, Quantity::substrate_temperature, called.reason.value,
           called.reason.start, called.reason.stop);
}

void ask_temperature(const Chamber::State& s, FanTalk& talk, Instant now) {
  const auto q = kept_temperature(s);
  if (!q) return;
  const auto room = s.room_of(event::RoomQuantity::temperature, now);
  if (!room) return;
  const QuantityState& state = s.of(*q);
  if (!state.sensed) {
    talk.blind = true;
    talk.blind_for = q;
    return;
  }
  const KeptBand& kept = *state.kept;
  const double value = state.sensed->value;
  const bool cools = *room <= value - kRoomHelps;
  if (state.hysteresis.call() == Call::lower && cools) {
    talk.say(FanMaster::temperature, Say::calls, *q, value, kept.lower_start(), kept.band.middle());
  } else if (*room < kept.band.low && *room < value && value <= kept.raise_start()) {
    talk.say(FanMaster::temperature, Say::forbids, *q, value, kept.band.low, kept.band.middle());
  } else if (*room > kept.band.high && *room > value && value >= kept.lower_start()) {
    talk.say(FanMaster::temperature, Say::forbids, *q, value, kept.band.high, kept.band.middle());
  }
}

void ask_co2(const Chamber::State& s, FanTalk& talk) {
  const QuantityState& state = s.of(Quantity::co2);
  if (!state.kept || !state.kept->lowers) return;
  if (!state.sensed) {
    talk.blind = true;
    talk.blind_for = Quantity::co2;
    return;
  }
  if (state.hysteresis.call() != Call::lower) return;
  talk.say(FanMaster::co2, Say::calls, Quantity::co2, state.sensed->value,
           state.kept->lower_start(), state.kept->band.middle());
}

void ask_humidity(const Chamber::State& s, FanTalk& talk, Instant now) {
  const QuantityState& state = s.of(Quantity::humidity);
  if (!state.kept || !state.kept->lowers) return;
  const auto room_t = s.room_of(event::RoomQuantity::temperature, now);
  const auto room_rh = s.room_of(event::RoomQuantity::humidity, now);
  if (!room_t || !room_rh) return;
  const auto& air = s.of(Quantity::air_temperature).sensed;
  if (!state.sensed || !air) {
    talk.blind = true;
    talk.blind_for = state.sensed ? Quantity::air_temperature : Quantity::humidity;
    return;
  }
  if (state.hysteresis.call() != Call::lower) return;
  if (runs_anywhere(s, Effect::humidify)) return;
  if (s.last_mist_end && now < *s.last_mist_end + kMistCoast) {
    talk.wake = *s.last_mist_end + kMistCoast;
    return;
  }
  const double outside = humidity_ratio(Celsius{*room_t}, Percent{*room_rh});
  const double inside = humidity_ratio(Celsius{air->value}, Percent{state.sensed->value});
  if (outside >= inside) return;
  talk.say(FanMaster::humidity_high, Say::calls, Quantity::humidity, state.sensed->value,
           state.kept->lower_start(), state.kept->band.middle());
}

void ask_floor(Chamber::State& s, FanTalk& talk, const PhasePlan& phase, const ActuatorPlan& fan,
               Instant now) {
  if (!phase.fresh_air || !fan.rate || *fan.rate <= 0.0) return;
  const double litres = s.plan.net_volume.in(phase.name);
  if (litres <= 0.0) return;
  const Duration run = floor_run(phase.fresh_air->changes, litres, *fan.rate);
  const FloorClock::Need need = s.floor.ask(run, phase.fresh_air->every, now);
  talk.wake = talk.wake ? std::min(*talk.wake, need.next_change) : need.next_change;
  talk.floor_owed = need.left;
  talk.floor_until = need.next_change;
  if (need.calls) talk.says[static_cast<std::size_t>(FanMaster::floor)] = Say::calls;
}

Wish fan_wish(Chamber::State& s, const PhasePlan& phase, const ActuatorPlan& fan, Effects& effects,
              Instant now) {
  FanTalk talk;
  ask_ceiling(s, talk, now);
  ask_temperature(s, talk, now);
  ask_co2(s, talk);
  ask_humidity(s, talk, now);
  ask_floor(s, talk, phase, fan, now);
  wake_by(effects, talk.wake, now);

  const FanDecision decision = decide_fan(fan_order(phase.name), talk.says);
  if (!decision.master) {
    if (talk.blind) return safely(Why::no_reading, talk.blind_for);
    Wish wish = resting(Why::fan_idle);
    wish.reason.until = talk.floor_until;
    return wish;
  }
  Wish wish;
  wish.run = decision.run;
  wish.at_once = !decision.run;
  wish.reason = talk.reasons[static_cast<std::size_t>(*decision.master)];
  wish.reason.why = decision.run ? Why::fan_called : Why::fan_forbidden;
  wish.reason.master = decision.master;
  if (decision.master == FanMaster::floor) {
    wish.reason.owed = talk.floor_owed;
    wish.reason.until = talk.floor_until;
  }
  return wish;
}

// --- light, stir --------------------------------------------------------------------------------

Wish light_wish(const Chamber::State& s, const PhasePlan& phase, Effects& effects, Instant now) {
  if (!phase.light) return resting(Why::not_kept);
  if (!s.midnight) return safely(Why::clock_unset);
  constexpr int kDay = 24 * 60 * 60;
  const auto since_midnight = duration_cast<seconds>(now - *s.midnight).count();
  const int second = static_cast<int>(((since_midnight % kDay) + kDay) % kDay);
  const int from = phase.light->from_minute * 60;
  const int to = phase.light->to_minute * 60;
  const bool on = from <= to ? second >= from && second < to : second >= from || second < to;
  const int next = on ? to : from;
  Wish wish;
  wish.run = on;
  wish.at_once = !on;
  wish.reason.why = on ? Why::light_on : Why::light_off;
  wish.reason.until = now + seconds((next - second + kDay - 1) % kDay + 1);
  wake_by(effects, wish.reason.until, now);
  return wish;
}

Wish stir_wish(const Chamber::State& s) {
  for (Effect effect : {Effect::humidify, Effect::dehumidify, Effect::heat, Effect::cool}) {
    if (!runs_anywhere(s, effect)) continue;
    Wish wish;
    wish.run = true;
    wish.reason.why = Why::stir_with;
    return wish;
  }
  return resting(Why::stir_idle);
}

Wish wish_for(Chamber::State& s, const PhasePlan& phase, const ActuatorPlan& plan, Effects& effects,
              Instant now) {
  const bool ceiling = s.ceiling_holds();
  switch (plan.effect) {
    case Effect::humidify:
      return by_band(s, Quantity::humidity, Call::raise, plan.effect);
    case Effect::dehumidify:
      return by_band(s, Quantity::humidity, Call::lower, plan.effect);
    case Effect::heat:
      if (ceiling) return by_ceiling(s, Why::ceiling_locked, false);
      return opposed_to(s, by_band(s, kept_temperature(s), Call::raise, plan.effect), Effect::cool);
    case Effect::cool:
      if (ceiling) return opposed_to(s, by_ceiling(s, Why::ceiling_called, true), Effect::heat);
      return opposed_to(s, by_band(s, kept_temperature(s), Call::lower, plan.effect), Effect::heat);
    case Effect::fresh_air:
      return fan_wish(s, phase, plan, effects, now);
    case Effect::stir:
      return stir_wish(s);
    case Effect::light:
      if (ceiling) return by_ceiling(s, Why::ceiling_locked, false);
      return light_wish(s, phase, effects, now);
  }
  ENSURE(false);
}

// --- from wish to output ------------------------------------------------------------------------

void perform(Chamber::State& s, std::size_t i, const Wish& wish, Effects& effects, Instant now) {
  ActuatorState& a = s.actuators[i];
  const ActuatorPlan& plan = s.plan.actuators[i];
  a.reason = wish.reason;
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
    const auto granted = a.gate.ask(wish.run, wish.yields || wish.at_once, now);
    level = granted.run ? kRun : kRest;
    a.reason.lock = granted.lock;
    if (granted.lock != Lock::none) a.reason.until = granted.until;
    wake_by(effects, granted.until, now);
  }
  if (a.level != level) {
    if (plan.effect == Effect::humidify && level == kRest) s.last_mist_end = now;
    a.level = level;
    a.level_since = now;
  }
  if (a.told == level) return;
  a.told = level;
  const Duration run = level == kRun && !wish.safe ? plan.limits.longest_run : Duration{0};
  effects.outputs.push_back({i, level, run, wish.safe});
}

}  // namespace

void Chamber::State::decide(Effects& effects, Instant now) {
  floor.moved(runs_anywhere(*this, Effect::fresh_air), now);
  const TubState* tub = leader();
  const PhasePlan* phase = phase_plan();
  const bool empty = tub && tub->phase.phase == kPhaseEmpty;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    Wish wish;
    if (empty) {
      wish = resting(Why::phase_empty);
    } else if (!phase) {
      wish = safely(Why::not_confirmed);
    } else {
      wish = wish_for(*this, *phase, plan.actuators[i], effects, now);
    }
    perform(*this, i, wish, effects, now);
  }
  std::stable_sort(
      effects.outputs.begin(), effects.outputs.end(),
      [](const OutputCommand& a, const OutputCommand& b) { return a.level < b.level; });
}

}  // namespace tubwarden
