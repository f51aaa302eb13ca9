#include "core/chamber/doubts.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/chamber/chamber_state.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

constexpr Doubt kTold[] = {Doubt::jumping, Doubt::stuck, Doubt::condensed};

AlertTimer& timer_of(SensorAlarms& alarms, Doubt doubt) {
  switch (doubt) {
    case Doubt::jumping:
      return alarms.jumping;
    case Doubt::stuck:
      return alarms.stuck;
    case Doubt::condensed:
      return alarms.condensed;
    case Doubt::none:
    case Doubt::late:
    case Doubt::disagrees:
      break;
  }
  ENSURE(false);
}

std::string sensor_cause(const std::string& id, Doubt doubt) {
  return fmt::format("sensor_{}_{}", id, cause_of(doubt));
}

std::string disagree_cause(Quantity q) {
  return fmt::format("{}_{}", name_of(q), cause_of(Doubt::disagrees));
}

/// The first of a sensor's quantities with this doubt.
std::optional<Quantity> doubted(const AirState& air, std::size_t sensor, Doubt doubt, Instant now) {
  for (const QuantitySource& source : air.sensors()[sensor].quantities) {
    if (air.doubt(sensor, source.quantity, now) == doubt) return source.quantity;
  }
  return std::nullopt;
}

/// "air 88 % and lid 71 %": what those that speak say of one quantity.
std::string voices(const AirState& air, Quantity q) {
  std::string told;
  for (std::size_t i = 0; i < air.sensors().size(); ++i) {
    const auto value = air.last_value(i, q);
    if (!value) continue;
    told +=
        fmt::format("{}{} {}", told.empty() ? "" : ", ", air.sensors()[i].id, amount(*value, q));
  }
  return told;
}

std::string then_words(const AirState& air, Quantity q, Instant now) {
  return air.usable(q, now) ? "the others are believed without it"
                            : fmt::format("what {} drives stands at its safe level", word_of(q));
}

}  // namespace

std::string doubt_words(const AirState& air, std::size_t sensor, Quantity q, Doubt doubt,
                        Instant now) {
  const std::string value = amount(air.last_value(sensor, q).value_or(0.0), q);
  const std::string since = spoken(now - air.doubted_since(sensor, q).value_or(now));
  switch (doubt) {
    case Doubt::none:
      break;
    case Doubt::late:
      return fmt::format("has been silent for {}, though it speaks each {}", since,
                         spoken(air.interval(sensor).value_or(Duration{0})));
    case Doubt::jumping:
      return fmt::format("says {} one time and something far from it the next", word_of(q));
    case Doubt::stuck:
      return fmt::format("has stood at {} for {}, through a run that should have moved it", value,
                         since);
    case Doubt::condensed:
      return fmt::format("has stood at {} for {}, whatever the air did: it is wet", value, since);
    case Doubt::disagrees:
      return fmt::format("says {} {}, against the others ({})", word_of(q), value, voices(air, q));
  }
  return "is believed";
}

void Chamber::State::take_doubts(const std::vector<SensorPlan>& wanted) {
  for (auto it = doubts.sensors.begin(); it != doubts.sensors.end();) {
    const bool stays = std::any_of(wanted.begin(), wanted.end(),
                                   [&](const SensorPlan& s) { return s.id == it->first; });
    for (Doubt doubt : kTold) {
      if (stays || !timer_of(it->second, doubt).raised()) continue;
      orphans.push_back({plan.id, sensor_cause(it->first, doubt)});
    }
    it = stays ? std::next(it) : doubts.sensors.erase(it);
  }
  for (const SensorPlan& sensor : wanted) doubts.sensors.try_emplace(sensor.id);
}

void Chamber::State::alert_doubts(Effects& effects, bool quiet, bool empty, Instant now) {
  for (std::size_t i = 0; i < plan.sensors.size(); ++i) {
    const SensorPlan& sensor = plan.sensors[i];
    for (Doubt doubt : kTold) {
      AlertTimer& timer = timer_of(doubts.sensors.at(sensor.id), doubt);
      if (quiet) {
        keep_quiet(timer);
        continue;
      }
      const auto q = empty ? std::nullopt : doubted(air, i, doubt, now);
      const auto change = timer.judge(q.has_value(), Duration{0}, Duration{0}, now);
      note(effects, change, timer, [&] {
        std::string text =
            fmt::format("{}: sensor {} is no longer {}.", plan.id, sensor.id, word_of(doubt));
        if (q) {
          text = fmt::format("{}: sensor {} {}; {}. {}", plan.id, sensor.id,
                             doubt_words(air, i, *q, doubt, now), then_words(air, *q, now),
                             advice_for(doubt));
        }
        const AlertRank rank = doubt == Doubt::stuck ? AlertRank::now : AlertRank::today;
        return ToldAlert{{plan.id, sensor_cause(sensor.id, doubt)}, rank, std::move(text)};
      });
    }
  }
  for (Quantity q : kAllQuantities) {
    AlertTimer& timer = doubts.disagree[index_of(q)];
    if (quiet) {
      keep_quiet(timer);
      continue;
    }
    const bool out = !empty && disagreeing(q, now);
    const auto change = timer.judge(out, Duration{0}, kAlertOffDelay, now);
    note(effects, change, timer, [&] {
      std::string text = fmt::format("{}: the sensors of {} agree again.", plan.id, word_of(q));
      if (out) {
        text = fmt::format("{}: the sensors of {} disagree: {}; {}. {}", plan.id, word_of(q),
                           voices(air, q), then_words(air, q, now), advice_for(Doubt::disagrees));
      }
      return ToldAlert{{plan.id, disagree_cause(q)}, AlertRank::today, std::move(text)};
    });
    wake_by(effects, timer.due(), now);
  }
}

bool Chamber::State::disagreeing(Quantity q, Instant now) const {
  for (std::size_t i = 0; i < plan.sensors.size(); ++i) {
    if (air.doubt(i, q, now) == Doubt::disagrees) return true;
  }
  return false;
}

std::vector<SensorView> Chamber::sensors(Instant now) const {
  std::vector<SensorView> views;
  const AirState& air = state_->air;
  for (std::size_t i = 0; i < air.sensors().size(); ++i) {
    SensorView view;
    view.id = air.sensors()[i].id;
    view.interval = air.interval(i);
    view.spikes = air.spikes(i);
    for (const QuantitySource& source : air.sensors()[i].quantities) {
      const Doubt doubt = air.doubt(i, source.quantity, now);
      if (doubt == Doubt::none) continue;
      view.ignored.push_back({source.quantity, doubt,
                              fmt::format("sensor {} {}; its {} is not believed. {}", view.id,
                                          doubt_words(air, i, source.quantity, doubt, now),
                                          word_of(source.quantity), advice_for(doubt))});
    }
    views.push_back(std::move(view));
  }
  return views;
}

// --- evidence -----------------------------------------------------------------------------------

RunAir Chamber::State::run_air(Instant now) const {
  RunAir around;
  const TubState* tub = leader();
  around.litres = plan.net_volume.in(tub ? tub->phase.phase : "");
  for (Quantity q : kAllQuantities) {
    const auto value = air.newest(q);
    if (value) around.value[index_of(q)] = value->value;
  }
  around.room_celsius = room_of(event::RoomQuantity::temperature, now);
  around.room_humidity = room_of(event::RoomQuantity::humidity, now);
  around.room_co2 = room_of(event::RoomQuantity::co2, now).value_or(kOutdoorCo2Ppm);
  return around;
}

void Chamber::State::note_run(std::size_t actuator, Instant now) {
  const ActuatorState& a = actuators[actuator];
  if (a.level == kRest || !a.usable) return;
  const double share = static_cast<double>(a.level) / kRun;
  evidence.add(pushes_of(plan.actuators[actuator], share, now - a.level_since, run_air(now)),
               a.level_since, now, now);
}

void Chamber::State::follow_heat(Instant now) {
  double watts = 0.0;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const ActuatorPlan& a = plan.actuators[i];
    const bool warms = a.effect == Effect::heat;
    if ((!warms && a.effect != Effect::cool) || !actuators[i].usable) continue;
    const double share = static_cast<double>(actuators[i].level) / kRun;
    watts += (warms ? 1.0 : -1.0) * share * a.rate.value_or(0.0);
  }
  const auto before = evidence.heat.more();
  evidence.heat.add(watts, now);
  const auto more = evidence.heat.more();
  double kg = 0.0;
  for (const TubState& tub : tubs) kg += tub.plan.substrate_kg.value_or(0.0);
  if (!more || kg <= 0.0 || (before && before->to == more->to)) return;
  const double moved = kPushShare * more->kj / (kg * kSubstrateKjKgK);
  for (Quantity q : {Quantity::substrate_temperature, Quantity::air_temperature}) {
    evidence.add({q, more->from, more->to, moved}, now);
  }
}

/// What runs still is evidence for as much as it has done.
std::vector<Push> Chamber::State::pushes(Instant now) const {
  std::vector<Push> all(evidence.pushes().begin(), evidence.pushes().end());
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const ActuatorState& a = actuators[i];
    const Duration watch = watch_after_run(Quantity::humidity);
    if (a.level == kRest || !a.usable || now - a.level_since <= watch) continue;
    const double share = static_cast<double>(a.level) / kRun;
    for (Push push :
         pushes_of(plan.actuators[i], share, now - a.level_since - watch, run_air(now))) {
      push.from = a.level_since;
      push.to = now - watch;
      all.push_back(push);
    }
  }
  return all;
}

void Chamber::State::judge_sensors(Instant now) {
  // With hands in the tub the outputs rest, and what the air does is not theirs.
  if (hand(HandKind::attend)) evidence.clear();
  air.judge(pushes(now), runs_anywhere(Effect::humidify), now);
}

}  // namespace tubwarden
