#include <fmt/format.h>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

using Change = AlertTimer::Change;

std::string amount(double value, Quantity q) {
  return fmt::format("{} {}", trimmed(value, q == Quantity::co2 ? 0 : 1), unit_of(q));
}

AlertRank rank_of(Quantity q) {
  switch (q) {
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return AlertRank::now;
    case Quantity::humidity:
    case Quantity::co2:
      return AlertRank::today;
  }
  ENSURE(false);
}

std::string advice(Quantity q, bool low) {
  switch (q) {
    case Quantity::humidity:
      return low ? "Look at the mister's water and wiring, and whether the lid is closed."
                 : "Look whether a mister leaks or runs, and let fresh air in; wet caps blotch.";
    case Quantity::air_temperature:
      return low ? "Look at the heater, and the room."
                 : "Look at the room, the heater and the fan.";
    case Quantity::substrate_temperature:
      return low ? "Look at the heat mat and the sensor in the substrate."
                 : "Cool the tub soon: spawn is harmed from 26.7 C.";
    case Quantity::co2:
      return low ? "Look at the sensor: air has no less than outdoors."
                 : "Look at the fan and its filter. Air the room before you lean in.";
  }
  ENSURE(false);
}

struct Told {
  AlertKey key;
  AlertRank rank;
  std::string text;
};

/// Adds a change to the effects; `told` is called only when there is one.
template <class Tell>
void note(Effects& effects, Change change, const AlertTimer& timer, Tell tell) {
  if (change == Change::none) return;
  Told told = tell();
  Alert alert{std::move(told.key), told.rank, std::move(told.text), timer.since()};
  effects.alerts.push_back(AlertChange{std::move(alert), change == Change::raised});
}

void judge_warn(Effects& effects, const std::string& place, Quantity q, QuantityState& state,
                const PhasePlan* phase, Duration elapsed, Instant now) {
  const Warn* warn = phase && phase->of(q) && phase->of(q)->warn ? &*phase->of(q)->warn : nullptr;
  const bool temperature = q == Quantity::air_temperature || q == Quantity::substrate_temperature;
  const Duration settle =
      phase ? (temperature ? phase->settle_temperature : phase->settle_other) : Duration{0};
  if (warn && elapsed < settle) wake_by(effects, now + (settle - elapsed), now);
  for (const bool low : {true, false}) {
    AlertTimer& timer = low ? state.low : state.high;
    const std::optional<double> limit = !warn ? std::nullopt : low ? warn->below : warn->above;
    const auto tell = [&] {
      const std::string cause = fmt::format("{}_{}", name_of(q), low ? "low" : "high");
      if (!limit || !state.sensed) {
        return Told{{place, cause}, rank_of(q), fmt::format("{} is no longer judged.", word_of(q))};
      }
      const double at = *limit + state.glide_shift;
      const bool out = low ? state.sensed->value < at : state.sensed->value > at;
      std::string text =
          fmt::format("{}: {} {} is {} {}.", place, word_of(q), amount(state.sensed->value, q),
                      out ? (low ? "below" : "above") : "back inside", amount(at, q));
      if (out) text += " " + advice(q, low);
      return Told{{place, cause}, rank_of(q), std::move(text)};
    };
    if (!limit || elapsed < settle) {
      note(effects, timer.withdraw(), timer, tell);
      continue;
    }
    if (!state.sensed) continue;  // the stale sensor alerts for itself
    const double at = *limit + state.glide_shift;
    const bool out = low ? state.sensed->value < at : state.sensed->value > at;
    note(effects, timer.judge(out, warn->on_delay, kAlertOffDelay, now), timer, tell);
    wake_by(effects, timer.due(), now);
  }
}

}  // namespace

void Chamber::State::alert(Effects& effects, Instant now) {
  const TubState* tub = leader();
  const PhasePlan* phase = phase_plan();
  const bool empty = tub && tub->phase.phase == kPhaseEmpty;
  const Duration elapsed = tub ? now - tub->phase.since : Duration{0};
  for (Quantity q : kAllQuantities) {
    judge_warn(effects, plan.id, q, of(q), empty ? nullptr : phase, elapsed, now);
  }

  for (TubState& t : tubs) {
    const Change change = t.ceiling_alert.judge(t.ceiling_holds, Duration{0}, Duration{0}, now);
    note(effects, change, t.ceiling_alert, [&] {
      const double value = t.ceiling_value.value_or(0.0);
      const double ceiling = t.plan.substrate_ceiling_c.value_or(0.0);
      const char* what = t.ceiling_holds ? "at or above" : "safely below";
      return Told{
          {t.plan.id, "substrate_ceiling"},
          AlertRank::now,
          fmt::format("{}: the substrate stands at {} C, {} its ceiling of {} C.{}", t.plan.id,
                      trimmed(value, 1), what, trimmed(ceiling, 1),
                      t.ceiling_holds
                          ? " Heat and light are locked off. Cool the tub: open it, move it "
                            "to a cooler room."
                          : "")};
    });
  }

  if (!broker_up) return;  // one cause, one message: the broker's
  for (std::size_t i = 0; i < stale_alerts.size(); ++i) {
    const bool stale = !empty && air.stale(i, now);
    const Change change = stale_alerts[i].judge(stale, Duration{0}, Duration{0}, now);
    note(effects, change, stale_alerts[i], [&] {
      const SensorPlan& sensor = plan.sensors[i];
      const std::string cause = fmt::format("sensor_{}_stale", sensor.id);
      const std::string silent = spoken(now - air.silent_since(i));
      return Told{
          {plan.id, cause},
          AlertRank::now,
          stale ? fmt::format("{}: sensor {} (topic {}) has said nothing for {}; what it "
                              "drives stands at its safe level. Look at its power and wiring.",
                              plan.id, sensor.id, sensor.topic, silent)
                : fmt::format("{}: sensor {} speaks again.", plan.id, sensor.id)};
    });
  }
}

const std::vector<Alert>& Chamber::alerts() const { return state_->standing; }

}  // namespace tubwarden
