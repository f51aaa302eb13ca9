#include <fmt/format.h>

#include <utility>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/chamber/chamber_state.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

using Change = AlertTimer::Change;

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

using Told = ToldAlert;

/// One slot of a bed that says otherwise, and a few of an air, do not take it back.
constexpr Duration kDriftOffDelay = minutes(10);

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
        return Told{{place, cause},
                    rank_of(q),
                    fmt::format("{}: {} is not judged for now.", place, word_of(q))};
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
    const bool out = beyond(state.sensed->value, *limit + state.glide_shift, low, warn->deadband,
                            timer.raised());
    note(effects, timer.judge(out, warn->on_delay, warn->off_delay, now), timer, tell);
    wake_by(effects, timer.due(), now);
  }
}

std::string leaving_text(const std::string& place, Quantity q, const QuantityState& state,
                         const std::optional<Leaving>& leaving, Instant now) {
  if (!leaving || !state.kept || !state.sensed) {
    const bool out =
        state.kept && state.sensed &&
        (state.sensed->value < state.kept->band.low || state.sensed->value > state.kept->band.high);
    if (out) return fmt::format("{}: {} has left its band.", place, word_of(q));
    return fmt::format("{}: {} no longer runs out of its band.", place, word_of(q));
  }
  const Band& band = state.kept->band;
  return fmt::format(
      "{}: {} is {} and {}: in about {} it is {} {}, its band's edge, and nothing that is called "
      "turns it. {}",
      place, word_of(q), amount(state.sensed->value, q), leaving->up ? "rises" : "falls",
      spoken(duration_cast<minutes>(leaving->at - now)), leaving->up ? "above" : "below",
      amount(leaving->up ? band.high : band.low, q), advice(q, !leaving->up));
}

std::string ceiling_text(const TubState& t) {
  const std::string value = trimmed(t.ceiling_value.value_or(0.0), 1);
  const std::string ceiling = trimmed(t.plan.substrate_ceiling_c.value_or(0.0), 1);
  if (!t.plan.substrate_ceiling_c || !t.ceiling_value) {
    return fmt::format("{}: its substrate ceiling is not judged for now.", t.plan.id);
  }
  const std::string stands =
      t.ceiling_by_air
          ? fmt::format("has no live sensor of its own and may by its air be at {} C", value)
          : fmt::format("is at {} C", value);
  if (!t.ceiling_holds) {
    return fmt::format("{}: the substrate {}, safely below its ceiling of {} C.", t.plan.id, stands,
                       ceiling);
  }
  return fmt::format(
      "{}: the substrate {}; its ceiling is {} C. Heat and light are locked off. Cool the tub: "
      "open it, move it to a cooler room.",
      t.plan.id, stands, ceiling);
}

std::string stale_text(const std::string& place, const SensorPlan& sensor, const AirState& air,
                       std::size_t i, Instant now) {
  const std::string who = fmt::format("{}: sensor {} (topic {})", place, sensor.id, sensor.topic);
  const char* then = "what it drives stands at its safe level. Look at its power and wiring.";
  if (air.is_gone(i)) return fmt::format("{} went off the broker; {}", who, then);
  std::string missing;
  std::size_t count = 0;
  for (const QuantitySource& source : sensor.quantities) {
    if (!air.silent(i, source.quantity, now)) continue;
    missing += (count++ == 0 ? "" : " and ") + std::string(word_of(source.quantity));
  }
  const std::string silent = spoken(now - air.silent_since(i));
  if (count == sensor.quantities.size()) {
    return fmt::format("{} has said nothing for {}; {}", who, silent, then);
  }
  return fmt::format("{} speaks, but has given no {} for {}; {}", who, missing, silent, then);
}

}  // namespace

std::string stale_cause(const SensorPlan& sensor) {
  return fmt::format("sensor_{}_stale", sensor.id);
}

void Chamber::State::alert_drift(Effects& effects, const PhasePlan* phase, bool quiet,
                                 Duration elapsed, Instant now) {
  for (Quantity q : kAllQuantities) {
    AlertTimer& timer = drifts.of[index_of(q)].alarm;
    if (quiet) {
      keep_quiet(timer);
      continue;
    }
    const auto gone = leaving(q, now);
    const auto tell = [&] {
      return Told{{plan.id, fmt::format("{}_leaving", name_of(q))},
                  AlertRank::today,
                  leaving_text(plan.id, q, of(q), gone, now)};
    };
    const bool temperature = q == Quantity::air_temperature || q == Quantity::substrate_temperature;
    const bool asked = phase && phase->of(q) && phase->of(q)->warn &&
                       phase->of(q)->warn->leaving_within &&
                       elapsed >= (temperature ? phase->settle_temperature : phase->settle_other);
    if (!asked) {
      note(effects, timer.withdraw(), timer, tell);
      continue;
    }
    const bool soon = gone && gone->at - now <= *phase->of(q)->warn->leaving_within;
    // A raised one stands until it has turned, or has left the band, where another cause tells.
    const bool holds = soon || (timer.raised() && gone);
    note(effects, timer.judge(holds, Duration{0}, kDriftOffDelay, now), timer, tell);
    wake_by(effects, timer.due(), now);
    if (gone && !soon) wake_by(effects, gone->at - *phase->of(q)->warn->leaving_within, now);
  }
}

void Chamber::State::alert(Effects& effects, Instant now) {
  for (const AlertKey& key : std::exchange(orphans, {})) {
    for (Alert gone : standing) {
      if (gone.key != key) continue;
      gone.text = fmt::format("{}: what this was about is no longer here.", key.place);
      effects.alerts.push_back({std::move(gone), false});
    }
  }

  const TubState* tub = leader();
  const PhasePlan* phase = phase_plan();
  const bool empty = tubs.empty() || (tub && tub->phase.phase == kPhaseEmpty);
  const bool quiet = hand(HandKind::attend) != nullptr;
  const Duration elapsed = tub ? now - tub->phase.since : Duration{0};
  for (Quantity q : kAllQuantities) {
    if (quiet) {
      keep_quiet(of(q).low);
      keep_quiet(of(q).high);
      continue;
    }
    judge_warn(effects, plan.id, q, of(q), empty ? nullptr : phase, elapsed, now);
  }

  for (TubState& t : tubs) {
    const Change change = t.ceiling_alert.judge(t.ceiling_holds, Duration{0}, Duration{0}, now);
    note(effects, change, t.ceiling_alert, [&] {
      return Told{{t.plan.id, kCeilingCause}, AlertRank::now, ceiling_text(t)};
    });
  }

  alert_drift(effects, empty ? nullptr : phase, quiet, elapsed, now);
  alert_derived(effects, empty ? nullptr : phase, quiet, elapsed, now);
  alert_doubts(effects, quiet, empty, now);
  alert_effects(effects, quiet, empty, now);
  alert_surfaces(effects, empty ? nullptr : phase, quiet, now);

  if (!broker_up) return;  // one cause, one message: the broker's
  for (std::size_t i = 0; i < stale_alerts.size(); ++i) {
    AlertTimer& timer = stale_alerts[i];
    if (quiet) {
      keep_quiet(timer);
      continue;
    }
    // Once raised it returns when the sensor speaks, not when the broker has come back.
    const bool stale = !empty && (air.stale(i, now) || (timer.raised() && !air.heard(i)));
    const Change change = timer.judge(stale, Duration{0}, Duration{0}, now);
    note(effects, change, timer, [&] {
      const SensorPlan& sensor = plan.sensors[i];
      std::string text = stale   ? stale_text(plan.id, sensor, air, i, now)
                         : empty ? fmt::format("{}: sensor {} is not missed while it is empty.",
                                               plan.id, sensor.id)
                                 : fmt::format("{}: sensor {} speaks again.", plan.id, sensor.id);
      return Told{{plan.id, stale_cause(sensor)}, AlertRank::now, std::move(text)};
    });
  }
}

const std::vector<Alert>& Chamber::alerts() const { return state_->standing; }

}  // namespace tubwarden
