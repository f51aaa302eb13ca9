#include <algorithm>

#include "base/ensure.hpp"
#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

template <class... Ts>
struct overloaded : Ts... {
  using Ts::operator()...;
};
template <class... Ts>
overloaded(Ts...) -> overloaded<Ts...>;

RoomValue room_value(const RoomSource& source) {
  RoomValue value;
  if (source.fixed) {
    value.value = source.fixed;
    value.fixed = true;
  } else if (source.sensor) {
    value.stale_after = source.sensor->stale_after;
  }
  return value;
}

}  // namespace

void RecentValues::add(double value, Instant taken) {
  if (count_ > 0 && taken - samples_[(count_ - 1) % kKept].at < kApart) return;
  samples_[count_ % kKept] = {value, taken};
  ++count_;
}

std::optional<double> RecentValues::median(Instant now) const {
  std::array<double, kKept> values{};
  std::size_t found = 0;
  for (std::size_t i = 0; i < std::min(count_, kKept); ++i) {
    if (now - samples_[i].at <= kGlideLookBack) values[found++] = samples_[i].value;
  }
  if (found == 0) return std::nullopt;
  std::sort(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(found));
  return found % 2 == 1 ? values[found / 2] : (values[found / 2 - 1] + values[found / 2]) / 2;
}

Chamber::State::State(ChamberPlan chamber, std::vector<TubPlan> standing_in, RoomPlan around,
                      Instant now)
    : air({}, now) {
  take_plan(std::move(chamber), std::move(standing_in), std::move(around), now);
  floor.begin(now, now);
  ledger.kept_until = now;
  no_effect.followed = day_followed = kept_followed = now;
  // A start counts as a stop just now: a mist may have ended with the daemon before.
  for (const ActuatorPlan& a : plan.actuators) {
    if (a.effect == Effect::humidify) last_mist_end = now;
  }
}

TubState* Chamber::State::leader() {
  for (TubState& t : tubs) {
    if (t.plan.id == plan.leader) return &t;
  }
  return nullptr;
}

const TubState* Chamber::State::leader() const { return const_cast<State*>(this)->leader(); }

const PhasePlan* Chamber::State::phase_plan() const {
  const TubState* tub = leader();
  return tub && tub->plan.profile ? tub->plan.profile->find(tub->phase.phase) : nullptr;
}

Led Chamber::State::led() const {
  const TubState* tub = leader();
  if (!tub) return {};
  return {tub->plan.id, tub->phase.phase, tub->plan.profile.get()};
}

bool Chamber::State::ceiling_holds() const {
  return std::any_of(tubs.begin(), tubs.end(), [](const TubState& t) { return t.ceiling_holds; });
}

bool Chamber::State::runs_anywhere(Effect effect) const {
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (plan.actuators[i].effect == effect && actuators[i].gate.running()) return true;
  }
  return false;
}

void Chamber::State::stands(std::size_t actuator, Level level, Instant now) {
  ActuatorState& a = actuators[actuator];
  if (a.level == level) return;
  follow_effects(now);
  const bool mist = plan.actuators[actuator].effect == Effect::humidify;
  if (mist && level == kRest) last_mist_end = now;
  note_run(actuator, now);
  note_called(actuator, level, now);
  a.level = level;
  a.level_since = now;
}

void Chamber::State::count_moved_air(Instant now) {
  Level fan = kRest;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const ActuatorState& a = actuators[i];
    if (plan.actuators[i].effect != Effect::fresh_air || !a.usable) continue;
    fan = std::max(fan, a.level);
  }
  floor.moved(fan, now);
}

// --- a new plan ---------------------------------------------------------------------------------

void Chamber::State::take_sensors(const std::vector<SensorPlan>& wanted, Instant now) {
  std::vector<AlertTimer> timers(wanted.size());
  for (std::size_t j = 0; j < plan.sensors.size(); ++j) {
    bool stays = false;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
      if (plan.sensors[j].id != wanted[i].id) continue;
      timers[i] = stale_alerts[j];
      stays = true;
    }
    if (!stays && stale_alerts[j].raised()) {
      orphans.push_back({plan.id, stale_cause(plan.sensors[j])});
    }
  }
  stale_alerts = std::move(timers);
  air.adopt(wanted, now);
}

void Chamber::State::take_actuators(const std::vector<ActuatorPlan>& wanted, Instant now) {
  std::vector<ActuatorState> next;
  const bool misted = runs_anywhere(Effect::humidify);
  bool mists = false;
  for (const ActuatorPlan& a : wanted) {
    next.emplace_back(a, now);
    for (std::size_t j = 0; j < plan.actuators.size(); ++j) {
      if (plan.actuators[j].output != a.output || plan.actuators[j].effect != a.effect) continue;
      next.back() = actuators[j];
      next.back().gate.limits(a.limits);
    }
    mists = mists || (a.effect == Effect::humidify && next.back().gate.running());
  }
  if (misted && !mists) last_mist_end = now;
  actuators = std::move(next);
}

void Chamber::State::take_tubs(const std::vector<TubPlan>& wanted) {
  std::vector<TubState> next;
  for (const TubPlan& tub : wanted) {
    TubState state;
    state.phase.tub = tub.id;
    for (TubState& old : tubs) {
      if (old.plan.id == tub.id && old.plan.batch == tub.batch) state = old;
    }
    const auto plan_now = [&](const TubPlan& of) -> const PhasePlan* {
      return of.profile ? of.profile->find(state.phase.phase) : nullptr;
    };
    const PhasePlan *was = plan_now(state.plan), *is = plan_now(tub);
    if (!was || !is || was->next_plan != is->next_plan || was->next != is->next) {
      state.next.forget();
    }
    state.plan = tub;
    next.push_back(std::move(state));
  }
  const auto orphan = [&](const TubState& old, AlertTimer TubState::*timer, const char* cause) {
    if (!(old.*timer).raised()) return;
    const bool stays = std::any_of(next.begin(), next.end(), [&](const TubState& t) {
      return t.plan.id == old.plan.id && (t.*timer).raised();
    });
    if (!stays) orphans.push_back({old.plan.id, cause});
  };
  for (const TubState& old : tubs) {
    orphan(old, &TubState::ceiling_alert, kCeilingCause);
    orphan(old, &TubState::next_alert, kPhaseDueCause);
  }
  tubs = std::move(next);
  tub_plans = wanted;
}

void Chamber::State::take_room(RoomPlan around) {
  const std::array<const RoomSource*, 3> sources = {&around.temperature, &around.humidity,
                                                    &around.co2};
  const std::array<const RoomSource*, 3> before = {&room_plan.temperature, &room_plan.humidity,
                                                   &room_plan.co2};
  for (std::size_t i = 0; i < sources.size(); ++i) {
    RoomValue next = room_value(*sources[i]);
    if (!next.fixed && next.stale_after > Duration{0} && sources[i]->sensor == before[i]->sensor) {
      next.value = room[i].value;
      next.seen = room[i].seen;
      next.live = room[i].live;
    }
    room[i] = next;
  }
  room_plan = std::move(around);
}

void Chamber::State::take_plan(ChamberPlan chamber, std::vector<TubPlan> standing_in,
                               RoomPlan around, Instant now) {
  const std::string before = leader() ? leader()->phase.phase : "";
  take_doubts(chamber.sensors);
  take_sensors(chamber.sensors, now);
  take_effects(chamber.actuators);
  take_actuators(chamber.actuators, now);
  take_tubs(standing_in);
  take_room(std::move(around));
  plan = std::move(chamber);
  open_book();
  if (leader() && leader()->phase.phase != before) begin_phase(now);
}

// --- events -------------------------------------------------------------------------------------

void Chamber::State::begin_phase(Instant now) {
  for (QuantityState& q : quantities) q.hysteresis.reset();
  drifts.forget();
  floor.begin(leader() ? leader()->phase.since : now, now);
}

void Chamber::State::take_phase(const TubPhase& phase, Instant now) {
  for (TubState& tub : tubs) {
    if (tub.plan.id != phase.tub) continue;
    // The same phase told again may have a mended beginning; its glides and calls go on.
    const bool same = tub.phase.phase == phase.phase;
    const auto known = tub.phase.glide_from;
    mark_casing(tub.plan.id, tub.phase.phase, phase.phase);
    tub.phase = phase;
    for (std::size_t q = 0; same && q < kQuantities; ++q) {
      if (!tub.phase.glide_from[q]) tub.phase.glide_from[q] = known[q];
    }
    if (same) continue;
    tub.next.forget();
    tub.kept = {};
    if (tub.plan.id == plan.leader) begin_phase(now);
  }
}

void Chamber::State::take_usable(const event::OutputUsable& report, Instant now) {
  ENSURE(report.actuator < actuators.size());
  ActuatorState& a = actuators[report.actuator];
  a.unusable_why = report.why;
  if (a.usable == report.usable) return;
  // A driver that goes or comes (back) stands at its safe level and waits for a fresh command.
  a.usable = report.usable;
  a.told.reset();
  const Level safe = plan.actuators[report.actuator].output.safe;
  a.gate.force(safe > kRest, now);
  stands(report.actuator, safe, now);
}

void Chamber::State::take_reading(const event::Reading& r, Instant now) {
  const Instant taken = now - r.age;
  if (!air.reading(r.sensor, r.quantity, r.value, r.retained, r.at_least, taken, now)) return;
  // With hands in the tub the air says little about the phase.
  if (hand(HandKind::attend)) {
    no_effect.forget();
    drifts.forget();
    return portions.forget();
  }
  if (r.retained) return;
  heed(r.quantity, now);
  heed_effects(r.quantity, now);
  heed_drift(r.quantity, now);
  of(r.quantity).recent.add(r.value, std::min(taken, now));
}

void Chamber::State::absorb(const Event& event, Instant now) {
  std::visit(overloaded{
                 [&](const event::Reading& r) { take_reading(r, now); },
                 [&](const event::Message& m) {
                   for (std::size_t i = 0; i < m.count; ++i) take_reading(m.readings[i], now);
                 },
                 [&](const event::SensorGone& s) { air.gone(s.sensor); },
                 [&](const event::RoomReading& r) {
                   RoomValue& value = room[static_cast<std::size_t>(r.quantity)];
                   if (value.fixed || r.retained) return;
                   value.value = r.value;
                   value.live = true;
                   value.seen = now;
                 },
                 [&](const event::BrokerUp&) {
                   broker_up = true;
                   air.broker(true, now);
                 },
                 [&](const event::BrokerDown&) {
                   broker_up = false;
                   air.broker(false, now);
                   for (RoomValue& value : room) value.live = false;
                 },
                 [&](const event::OutputUsable& o) { take_usable(o, now); },
                 [&](const event::PhaseIs& p) { take_phase(p.phase, now); },
                 [&](const event::LocalTime& t) {
                   midnight = t.second_of_day ? std::optional(now - seconds(*t.second_of_day))
                                              : std::nullopt;
                 },
                 [&](const event::HandOn& h) { take_hand(h.hand); },
                 [&](const event::HandOff& h) { drop_hand(h.kind, h.actuator); },
                 [&](const event::MistKnown& k) { take_known(k); },
                 [&](const event::DutyKnown& k) { take_known(k); },
                 [&](const event::BlindKnown& k) { take_known(k); },
                 [&](const event::Watered& w) { take_watered(w, now); },
                 [&](const event::Refilled& r) { take_refilled(r); },
                 [&](const event::BookKnown& b) { take_book(b, now); },
                 [](const event::Tick&) {},
             },
             event);
}

}  // namespace tubwarden
