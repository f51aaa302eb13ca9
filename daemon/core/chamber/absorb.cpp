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

void RecentValues::add(double value, Instant now) {
  if (count_ > 0 && now - samples_[(count_ - 1) % kKept].at < kApart) return;
  samples_[count_ % kKept] = {value, now};
  ++count_;
}

std::optional<double> RecentValues::median(Instant now) const {
  std::array<double, kKept> values{};
  std::size_t found = 0;
  for (std::size_t i = 0; i < std::min(count_, kKept); ++i) {
    if (now - samples_[i].at <= kGlideLookBack) values[found++] = samples_[i].value;
  }
  if (found == 0) return std::nullopt;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(found / 2);
  std::nth_element(values.begin(), middle, values.begin() + static_cast<std::ptrdiff_t>(found));
  return *middle;
}

Chamber::State::State(ChamberPlan chamber, std::vector<TubPlan> standing_in, RoomPlan around,
                      Instant now)
    : air({}, now) {
  take_plan(std::move(chamber), std::move(standing_in), std::move(around), now);
  floor.begin(now);
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

bool Chamber::State::ceiling_holds() const {
  return std::any_of(tubs.begin(), tubs.end(), [](const TubState& t) { return t.ceiling_holds; });
}

void Chamber::State::take_plan(ChamberPlan chamber, std::vector<TubPlan> standing_in,
                               RoomPlan around, Instant now) {
  std::vector<AlertTimer> timers(chamber.sensors.size());
  for (std::size_t i = 0; i < chamber.sensors.size(); ++i) {
    for (std::size_t j = 0; j < plan.sensors.size(); ++j) {
      if (plan.sensors[j].id == chamber.sensors[i].id) timers[i] = stale_alerts[j];
    }
  }
  stale_alerts = std::move(timers);
  air.adopt(chamber.sensors, now);

  std::vector<ActuatorState> kept;
  for (const ActuatorPlan& wanted : chamber.actuators) {
    kept.emplace_back(wanted, now);
    for (std::size_t j = 0; j < plan.actuators.size(); ++j) {
      const bool same_output = plan.actuators[j].output == wanted.output;
      if (!same_output || plan.actuators[j].effect != wanted.effect) continue;
      kept.back() = actuators[j];
      kept.back().gate.limits(wanted.limits);
    }
  }
  actuators = std::move(kept);

  std::vector<TubState> stay;
  for (TubPlan& tub : standing_in) {
    TubState state;
    state.phase.tub = tub.id;
    for (TubState& old : tubs) {
      if (old.plan.id == tub.id && old.plan.batch == tub.batch) state = std::move(old);
    }
    state.plan = tub;
    stay.push_back(std::move(state));
  }
  tubs = std::move(stay);
  tub_plans = std::move(standing_in);

  const std::array<const RoomSource*, 3> sources = {&around.temperature, &around.humidity,
                                                    &around.co2};
  for (std::size_t i = 0; i < sources.size(); ++i) {
    RoomValue fresh = room_value(*sources[i]);
    if (!fresh.fixed && !room[i].fixed && sources[i]->sensor && room[i].live) {
      fresh.value = room[i].value;
      fresh.seen = room[i].seen;
      fresh.live = true;
    }
    room[i] = fresh;
  }
  room_plan = std::move(around);
  plan = std::move(chamber);
}

void Chamber::State::absorb(const Event& event, Instant now) {
  std::visit(
      overloaded{
          [&](const event::Reading& r) {
            air.reading(r.sensor, r.quantity, r.value, r.retained, r.at_least, now - r.age, now);
            if (!r.retained) of(r.quantity).recent.add(r.value, now);
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
          [&](const event::OutputUsable& o) {
            ENSURE(o.actuator < actuators.size());
            ActuatorState& a = actuators[o.actuator];
            a.unusable_why = o.why;
            if (a.usable == o.usable) return;
            // A driver that comes (back) stands at its safe level and waits for a fresh command.
            a.usable = o.usable;
            a.told.reset();
            const Level safe = plan.actuators[o.actuator].output.safe;
            a.gate.force(safe > kRest, now);
            if (a.level != safe) a.level_since = now;
            a.level = safe;
          },
          [&](const event::PhaseIs& p) {
            for (TubState& tub : tubs) {
              if (tub.plan.id != p.phase.tub) continue;
              const bool changed =
                  tub.phase.phase != p.phase.phase || tub.phase.since != p.phase.since;
              tub.phase = p.phase;
              if (!changed || tub.plan.id != plan.leader) continue;
              for (QuantityState& q : quantities) q.hysteresis.reset();
              floor.begin(now);
            }
          },
          [&](const event::LocalTime& t) {
            midnight =
                t.second_of_day ? std::optional(now - seconds(*t.second_of_day)) : std::nullopt;
          },
          [](const event::Tick&) {},
      },
      event);
}

}  // namespace tubwarden
