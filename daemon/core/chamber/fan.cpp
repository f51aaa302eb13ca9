#include <algorithm>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/chamber/fan_talk.hpp"

namespace tubwarden {

Reason lowering(const Chamber::State& s, Quantity q) {
  const QuantityState& state = s.of(q);
  Reason reason;
  reason.quantity = q;
  reason.value = state.sensed->value;
  reason.start = state.kept->lower_start();
  reason.stop = state.kept->band.middle();
  return reason;
}

bool room_is_drier(const Chamber::State& s, Instant now) {
  const auto room_t = s.room_of(event::RoomQuantity::temperature, now);
  const auto room_rh = s.room_of(event::RoomQuantity::humidity, now);
  const auto& air = s.of(Quantity::air_temperature).sensed;
  const auto& humid = s.of(Quantity::humidity).sensed;
  return room_t && room_rh && air && humid &&
         humidity_ratio(Celsius{*room_t}, Percent{*room_rh}) <
             humidity_ratio(Celsius{air->value}, Percent{humid->value});
}

bool judged(const Chamber::State& s, FanTalk& talk, Quantity q) {
  if (s.of(q).sensed) return true;
  if (s.air.planned(q)) talk.blind = q;
  return false;
}

namespace {

/// Whether the room's air would cool the chamber's; nothing where the room is not known.
std::optional<bool> room_cools(const Chamber::State& s, double inside, Instant now) {
  const auto room = s.room_of(event::RoomQuantity::temperature, now);
  if (!room) return std::nullopt;
  const auto& air = s.of(Quantity::air_temperature).sensed;
  return *room <= (air ? air->value : inside) - kRoomHelps;
}

void ask_ceiling(const Chamber::State& s, FanTalk& talk, Instant now) {
  if (!s.ceiling_holds()) return;
  const Reason reason = by_ceiling(s, Why::ceiling_called, true).reason;
  const auto cools = room_cools(s, reason.value, now);
  if (cools.value_or(false)) {
    talk.say(FanMaster::ceiling, Say::calls, reason);
  } else {
    talk.wait(cools ? Why::fan_no_help : Why::fan_room_blind, reason);
  }
}

void ask_temperature(const Chamber::State& s, FanTalk& talk, Instant now) {
  const auto q = kept_temperature(s);
  if (!q) return;
  const auto room = s.room_of(event::RoomQuantity::temperature, now);
  if (room && !judged(s, talk, *q)) return;
  if (!s.of(*q).sensed) return;
  const KeptBand& kept = *s.of(*q).kept;
  const bool calls = s.of(*q).hysteresis.call() == Call::lower;
  Reason reason = lowering(s, *q);
  const auto cools = room_cools(s, reason.value, now);
  if (calls && cools.value_or(false)) {
    talk.say(FanMaster::temperature, Say::calls, reason);
    return;
  }
  if (calls) talk.wait(cools ? Why::fan_no_help : Why::fan_room_blind, reason);
  if (!room) return;
  const double value = reason.value;
  if (*room < kept.band.low && *room < value && value <= kept.raise_start()) {
    reason.start = kept.band.low;
    talk.say(FanMaster::temperature, Say::forbids, reason);
  } else if (*room > kept.band.high && *room > value && value >= kept.lower_start()) {
    reason.start = kept.band.high;
    talk.say(FanMaster::temperature, Say::forbids, reason);
  }
}

void ask_co2(const Chamber::State& s, FanTalk& talk) {
  const QuantityState& state = s.of(Quantity::co2);
  if (!state.kept || !state.kept->lowers || !judged(s, talk, Quantity::co2)) return;
  if (state.hysteresis.call() != Call::lower) return;
  talk.say(FanMaster::co2, Say::calls, lowering(s, Quantity::co2));
}

void ask_humidity(const Chamber::State& s, FanTalk& talk, Instant now) {
  const QuantityState& state = s.of(Quantity::humidity);
  if (!state.kept || !state.kept->lowers) return;
  const bool room_known = s.room_of(event::RoomQuantity::temperature, now) &&
                          s.room_of(event::RoomQuantity::humidity, now);
  if (room_known && !judged(s, talk, Quantity::humidity)) return;
  if (!state.sensed || state.hysteresis.call() != Call::lower) return;
  Reason reason = lowering(s, Quantity::humidity);
  if (s.runs_anywhere(Effect::humidify)) return talk.wait(Why::fan_coasting, reason);
  if (!room_known) return talk.wait(Why::fan_room_blind, reason);
  if (!judged(s, talk, Quantity::air_temperature)) {
    return talk.wait(Why::fan_room_blind, reason);
  }
  if (s.last_mist_end && now < *s.last_mist_end + kMistCoast) {
    talk.wake = *s.last_mist_end + kMistCoast;
    reason.until = talk.wake;
    return talk.wait(Why::fan_coasting, reason);
  }
  if (!room_is_drier(s, now)) return talk.wait(Why::fan_no_help, reason);
  talk.say(FanMaster::humidity_high, Say::calls, reason);
}

void ask_floor(Chamber::State& s, FanTalk& talk, const PhasePlan& phase, const ActuatorPlan& fan,
               Instant now) {
  if (!phase.fresh_air || !fan.rate || *fan.rate <= 0.0) return;
  const double litres = s.plan.net_volume.in(phase.name);
  if (litres <= 0.0) return;
  const Duration run = floor_run(phase.fresh_air->changes, litres, *fan.rate);
  FloorClock::Need need = s.floor.ask(run, phase.fresh_air->every, now);
  talk.wake = talk.wake ? std::min(*talk.wake, need.next_change) : need.next_change;
  if (talk.by_portions) need.calls = floor_portion(s, talk, run, phase.fresh_air->every, need, now);
  talk.floor_owed = need.left;
  talk.floor_until = need.next_change;
  Reason reason;
  reason.owed = need.left;
  reason.until = need.next_change;
  if (need.calls) talk.say(FanMaster::floor, Say::calls, reason);
}

void ask(Chamber::State& s, FanTalk& talk, FanMaster master, const PhasePlan& phase,
         const ActuatorPlan& fan, Instant now) {
  switch (master) {
    case FanMaster::ceiling:
      return ask_ceiling(s, talk, now);
    case FanMaster::co2:
      return talk.by_portions ? ask_co2_portion(s, talk, now) : ask_co2(s, talk);
    case FanMaster::humidity_high:
      if (ask_drying(s, talk, phase, now) || ask_dew(s, talk, now)) return;
      return talk.by_portions ? ask_humidity_portion(s, talk, now) : ask_humidity(s, talk, now);
    case FanMaster::temperature:
      return ask_temperature(s, talk, now);
    case FanMaster::floor:
      return ask_floor(s, talk, phase, fan, now);
  }
  ENSURE(false);
}

/// Lowering never below low: the shortest run yields once the air has left its band that way, and
/// once the room has pushed it out of the other.
bool past_the_edge(const Chamber::State& s, Quantity q, bool either) {
  const QuantityState& state = s.of(q);
  if (!state.kept || !state.sensed) return false;
  const Band& band = state.kept->band;
  return (state.kept->lowers && state.sensed->value < band.low) ||
         (either && state.sensed->value > band.high);
}

/// What would call the fan next, as far as the room's air lets it: the first in order that is kept.
std::optional<Reason> next_call(const Chamber::State& s, std::span<const FanMaster> order,
                                bool doses, Instant now) {
  const bool room_warmth = s.room_of(event::RoomQuantity::temperature, now).has_value();
  const bool room_damp = s.room_of(event::RoomQuantity::humidity, now).has_value();
  const auto lowers = [&](std::optional<Quantity> q) {
    return q && s.of(*q).kept && s.of(*q).kept->lowers && s.of(*q).sensed;
  };
  for (const FanMaster master : order) {
    std::optional<Quantity> q;
    switch (master) {
      case FanMaster::co2:
        q = Quantity::co2;
        break;
      case FanMaster::humidity_high:
        if (room_warmth && room_damp) q = Quantity::humidity;
        break;
      case FanMaster::temperature:
        if (room_warmth) q = kept_temperature(s);
        break;
      case FanMaster::ceiling:
      case FanMaster::floor:
        break;
    }
    if (!lowers(q)) continue;
    Reason reason = lowering(s, *q);
    if (*q == Quantity::co2 && doses) reason.start = co2_start(s.of(*q).kept->band);
    return reason;
  }
  return std::nullopt;
}

}  // namespace

Wish fan_wish(Chamber::State& s, const PhasePlan* phase, const ActuatorPlan& fan,
              const ActuatorState& state, Effects& effects, Instant now) {
  static constexpr FanMaster only_ceiling[] = {FanMaster::ceiling};
  FanTalk talk{fan, state};
  talk.by_portions = phase && s.by_portions(fan);
  if (!state.gate.running() || (s.portions.fan && now >= s.portions.fan->until)) {
    s.portions.fan.reset();
  }
  const auto order = phase ? fan_order(phase->name) : std::span<const FanMaster>(only_ceiling);
  static const PhasePlan none;
  for (FanMaster master : order) ask(s, talk, master, phase ? *phase : none, fan, now);
  wake_by(effects, talk.wake, now);

  const FanDecision decision = decide_fan(order, talk.says);
  if (decision.master) {
    const auto temperature = kept_temperature(s);
    Wish wish;
    wish.run = decision.run;
    wish.cuts = !decision.run && temperature && past_the_edge(s, *temperature, true);
    wish.reason = talk.reasons[static_cast<std::size_t>(*decision.master)];
    wish.reason.why = decision.run ? Why::fan_called : Why::fan_forbidden;
    wish.reason.master = decision.master;
    const auto& planned = talk.planned[static_cast<std::size_t>(*decision.master)];
    if (decision.run && planned) {
      s.portions.fan = planned;
      wish.run_until = planned->until;
    }
    return wish;
  }
  if (talk.blind) return safely(Why::no_reading, talk.blind);
  const auto temperature = kept_temperature(s);
  Wish wish = resting(phase ? Why::fan_idle : Why::phase_empty);
  if (const auto next = phase ? next_call(s, order, talk.by_portions, now) : std::nullopt) {
    wish.reason = *next;
    wish.reason.why = Why::fan_idle;
  }
  wish.reason.until = talk.floor_until;
  wish.reason.owed = talk.floor_owed;
  if (talk.waits) wish.reason = *talk.waits;
  wish.cuts = past_the_edge(s, Quantity::humidity, false) ||
              (temperature && past_the_edge(s, *temperature, false));
  return wish;
}

}  // namespace tubwarden
