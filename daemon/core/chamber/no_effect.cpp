#include "core/chamber/no_effect.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/chamber/chamber_state.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

/// Quantities whose noise is known to be no less, whatever a sensor's step is (common practice, no
/// source).
double least_quantum(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return 0.5;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return 0.1;
    case Quantity::co2:
      return 20.0;
  }
  ENSURE(false);
}

/// Lag of usual sensors, and how fast an effect is lost (common practice, no source).
EffectTraits effect_traits(Quantity q, double quantum) {
  const double least = std::max(quantum, least_quantum(q));
  switch (q) {
    case Quantity::humidity:
      return {least, 10.0, 600.0, seconds(4), 90.0, 1800.0};
    case Quantity::co2:
      return {least, 45.0, 1200.0, seconds(4), 180.0, 1800.0};
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return {least, 60.0, 3600.0, minutes(1), 1800.0, 3 * 3600.0};
  }
  ENSURE(false);
}

/// s: readings further apart than this miss what a run does before it has faded.
double slowest_gap_s(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return 30.0;
    case Quantity::co2:
      return 45.0;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return 600.0;
  }
  ENSURE(false);
}

/// Whether what the readings did not do may be held against an output.
bool may_deny(const NoEffect::Heard& heard, Quantity q, Instant now) {
  return heard.gap_s <= slowest_gap_s(q) && heard.moved_at && now - *heard.moved_at < kReadingStill;
}

/// In so long a run has done all that it can.
constexpr Duration kWhole = hours(24);
constexpr double kNoMost = 1e6;

bool may_move(Effect effect, Quantity q) {
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return q == Quantity::humidity;
    case Effect::fresh_air:
      return q == Quantity::humidity || q == Quantity::co2;
    case Effect::heat:
    case Effect::cool:
      return q == Quantity::substrate_temperature || q == Quantity::air_temperature;
    case Effect::stir:
    case Effect::light:
      return false;
  }
  ENSURE(false);
}

/// What an actuator is judged by. A fan's dry air is answered with mist during its run, so that
/// humidity says little of it where there is a mister. A heater is judged by the bed it is to warm
/// only: how much of an air, or of a bed through its air, a watt should move is not known.
bool judged_by(const Chamber::State& s, Effect effect, Quantity q) {
  if (!may_move(effect, q)) return false;
  if (effect == Effect::heat) {
    return q == Quantity::substrate_temperature && s.of(q).kept.has_value();
  }
  if (effect == Effect::cool) return false;
  if (effect == Effect::fresh_air && q == Quantity::humidity) {
    return !s.air.planned(Quantity::co2) &&
           std::none_of(s.plan.actuators.begin(), s.plan.actuators.end(), [](const auto& a) {
             return a.effect == Effect::humidify || a.effect == Effect::dehumidify;
           });
  }
  return true;
}

/// Its number among the outputs that may move `q`, by the plan's order.
std::size_t output_of(const ChamberPlan& plan, std::size_t actuator, Quantity q) {
  std::size_t number = 0;
  for (std::size_t i = 0; i < actuator; ++i) number += may_move(plan.actuators[i].effect, q);
  return number;
}

double substrate_kg(const Chamber::State& s) {
  double kg = 0.0;
  for (const TubState& tub : s.tubs) kg += tub.plan.substrate_kg.value_or(0.0);
  return kg;
}

struct Nominal {
  std::array<double, kQuantities> moved{}, most{};
};

/// What a heater or cooler at its level gave the substrate in `passed`, K.
double warmth(const Chamber::State& s, std::size_t i, Duration passed) {
  const double kg = substrate_kg(s);
  if (kg <= 0.0) return 0.0;
  const double share = static_cast<double>(s.actuators[i].level) / kRun;
  const double kj = s.plan.actuators[i].rate.value_or(0.0) * share * seconds_of(passed) / 1000.0;
  return kj / (kg * kSubstrateKjKgK);
}

bool is_thermal(Effect effect) { return effect == Effect::heat || effect == Effect::cool; }

/// What an actuator nominally moved each quantity in `passed`, at its level, and could have at
/// most.
Nominal nominal(const Chamber::State& s, std::size_t i, const RunAir& around, bool room_co2_known,
                Duration passed) {
  const ActuatorPlan& a = s.plan.actuators[i];
  const double share = static_cast<double>(s.actuators[i].level) / kRun;
  Nominal n;
  const auto humidity = around.value[index_of(Quantity::humidity)];
  if (a.effect == Effect::humidify && humidity.value_or(0.0) >= kEffectMasked) return n;
  const auto told = [&](Quantity q) {
    return may_move(a.effect, q) && (q != Quantity::co2 || room_co2_known ||
                                     *around.value[index_of(q)] > around.room_co2 + kCo2Tells);
  };
  for (const Push& push : pushes_of(a, share, passed, around)) {
    if (told(push.quantity)) n.moved[index_of(push.quantity)] = push.amount / kPushShare;
  }
  for (const Push& push : pushes_of(a, share, kWhole, around)) {
    // Mist that a wet air no longer takes up is masked; what an empty tank owes adds up.
    n.most[index_of(push.quantity)] =
        a.effect == Effect::fresh_air ? std::fabs(push.amount) / kPushShare : kNoMost;
  }
  return n;
}

std::string advice(Effect effect) {
  switch (effect) {
    case Effect::humidify:
      return "Fill its tank; look whether it mists, and at its power. Its portions do not grow "
             "meanwhile.";
    case Effect::dehumidify:
      return "Look whether it runs and whether its own tank is full.";
    case Effect::heat:
      return "Feel whether it gets warm; look at its plug and its cut-out.";
    case Effect::cool:
      return "Feel whether it gets cold; look at its plug.";
    case Effect::fresh_air:
      return "Look whether the fan turns, and at its filter and hose.";
    case Effect::stir:
    case Effect::light:
      break;
  }
  ENSURE(false);
}

std::string no_effect_text(const std::string& place, const ActuatorPlan& plan,
                           const NoEffect::Part& part) {
  const Quantity q = part.by.value_or(Quantity::humidity);
  if (!part.holds) return fmt::format("{}: {} moves the air again.", place, plan.id);
  if (!part.share) {
    return fmt::format(
        "{}: {} runs, and {} does not follow: {} portions in a row moved nothing. {}", place,
        plan.id, word_of(q), kPortionsDeny, advice(plan.effect));
  }
  const double came = std::max(0.0, part.share->value) * part.share->moves;
  return fmt::format(
      "{}: {} runs, and {} does not follow: of the {} that it should have moved, {} "
      "came. {}",
      place, plan.id, word_of(q), amount(part.share->moves, q), amount(came, q),
      advice(plan.effect));
}

}  // namespace

std::string no_effect_cause(const std::string& actuator) {
  return fmt::format("actuator_{}_no_effect", actuator);
}

void NoEffect::Heard::hear(double now_says, Instant now) {
  if (at) {
    const double gap = std::min(seconds_of(now - *at), 3600.0);
    gap_s = gap_s > 0.0 ? 0.9 * gap_s + 0.1 * gap : gap;
  }
  if (!at || now_says != value) moved_at = now;
  value = now_says;
  at = now;
}

void Chamber::State::follow_effects(Instant now) {
  const Duration passed = now - no_effect.followed;
  no_effect.followed = now;
  if (passed <= Duration{0}) return;
  using Outputs = std::array<double, EffectFit::kOutputs>;
  std::array<Outputs, kQuantities> moved{}, most{};
  std::optional<RunAir> around;
  const double fades = std::exp(-seconds_of(passed) / seconds_of(kMostFades));
  const bool room_co2 = room_of(event::RoomQuantity::co2, now).has_value();
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    NoEffect::Part& part = no_effect.parts[i];
    for (double& m : part.most) m *= fades;
    if (actuators[i].level == kRest || !actuators[i].usable) continue;
    if (is_thermal(plan.actuators[i].effect)) {
      part.heat.gave(warmth(*this, i, passed));
      continue;
    }
    if (!around) around = run_air(now);
    const Nominal own = nominal(*this, i, *around, room_co2, passed);
    for (Quantity q : kAllQuantities) {
      const std::size_t number = output_of(plan, i, q);
      if (number >= EffectFit::kOutputs || !may_move(plan.actuators[i].effect, q)) continue;
      double& could = part.most[index_of(q)];
      could = std::max(could, own.most[index_of(q)]);
      moved[index_of(q)][number] += own.moved[index_of(q)];
      most[index_of(q)][number] = could;
    }
  }
  for (Quantity q : kAllQuantities) {
    no_effect.fits[index_of(q)].ran(moved[index_of(q)], most[index_of(q)], passed);
  }
}

void Chamber::State::heed_effects(Quantity q, Instant now) {
  const auto sensed = air.usable(q, now);
  if (!sensed || sensed->at_least) return;
  EffectFit& fit = no_effect.fits[index_of(q)];
  NoEffect::Heard& heard = no_effect.heard[index_of(q)];
  heard.hear(sensed->value, now);
  if (q == Quantity::humidity && sensed->value >= kEffectMasked) fit.forget();
  fit.traits(effect_traits(q, air.quantum(q)));
  fit.reading(sensed->value, now);
  heed_heat(q, sensed->value, now);
  if (now < no_effect.looked[index_of(q)] + kNoEffectLook) return;
  no_effect.looked[index_of(q)] = now;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (!judged_by(*this, plan.actuators[i].effect, q)) continue;
    if (is_thermal(plan.actuators[i].effect)) continue;
    const auto share = fit.share(output_of(plan, i, q));
    NoEffect::Part& part = no_effect.parts[i];
    if (share && share->something()) part.holds = false;
    std::optional<Instant>& since = part.nothing_since[index_of(q)];
    if (!share || !share->nothing() || !may_deny(heard, q, now)) {
      since.reset();
    } else if (!since) {
      since = now;
    } else if (now >= *since + kNoEffectHolds) {
      suspect(i, q, share);
    }
    heed_return(i, q, sensed->value, now);
  }
}

/// Heaters: by what they gave in some hours, and what the bed did with less.
void Chamber::State::heed_heat(Quantity q, double value, Instant now) {
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const Effect effect = plan.actuators[i].effect;
    if (!is_thermal(effect) || !judged_by(*this, effect, q)) continue;
    NoEffect::Part& part = no_effect.parts[i];
    const auto nothing =
        part.heat.reading(value, room_of(event::RoomQuantity::temperature, now), now);
    heed_return(i, q, value, now);
    // One that rests is not the one that is cold.
    if (!nothing || actuators[i].level == kRest) continue;
    EffectFit::Share share;
    share.moves = nothing->expected;
    share.value = nothing->came / nothing->expected;
    suspect(i, q, share);
  }
}

void Chamber::State::heed_portion(MistWatch::Verdict verdict, double value) {
  std::optional<std::size_t> last;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (plan.actuators[i].effect != Effect::humidify) continue;
    if (!last || actuators[i].level_since > actuators[*last].level_since) last = i;
  }
  if (!last) return;
  NoEffect::Part& part = no_effect.parts[*last];
  const auto fit = no_effect.fits[index_of(Quantity::humidity)].share(
      output_of(plan, *last, Quantity::humidity));
  if (verdict != MistWatch::Verdict::moved) {
    part.portions_moved = 0;
    const bool denied = fit && !fit->hardly();
    const bool heard = may_deny(no_effect.heard[index_of(Quantity::humidity)], Quantity::humidity,
                                no_effect.followed);
    if (heard && portions.watch.nothing_in_a_row() >= kPortionsDeny && !denied) {
      suspect(*last, Quantity::humidity, std::nullopt);
    }
    return;
  }
  // Where mist was counted upon that did not come, an air that stands still seems to rise.
  const bool rose = part.extreme && value >= *part.extreme + kHumidityProves;
  if (part.holds && rose && ++part.portions_moved >= kPortionsProve && !(fit && fit->hardly())) {
    part.holds = false;
  }
}

/// Evidence lasts for long where an effect is slow: a reading that has come away from its extreme
/// while the actuator runs says more.
void Chamber::State::heed_return(std::size_t actuator, Quantity q, double value, Instant now) {
  NoEffect::Part& part = no_effect.parts[actuator];
  const Effect effect = plan.actuators[actuator].effect;
  const bool thermal = is_thermal(effect);
  if (!part.holds) return;
  const bool raises = effect == Effect::heat || effect == Effect::humidify;
  const double up = raises ? value : -value;
  if (!part.extreme || up < *part.extreme) part.extreme = up;
  if (q == Quantity::humidity) return;  // by its portions
  if (actuators[actuator].level == kRest) return;
  double proves = std::max(kWarmthProves, EffectFit::kQuanta * air.quantum(q));
  if (!thermal) {
    const double fresh = room_of(event::RoomQuantity::co2, now).value_or(kOutdoorCo2Ppm);
    proves = std::max(kCo2Proves, kCo2ProvesShare * (-*part.extreme - fresh));
  }
  if (up < *part.extreme + proves) return;
  part.holds = false;
  part.heat.forget();
  no_effect.fits[index_of(q)].forget();
}

/// One cause, one message: in the still air of a dead fan mist has nowhere to go.
void Chamber::State::suspect(std::size_t actuator, Quantity q,
                             const std::optional<EffectFit::Share>& share) {
  NoEffect::Part& part = no_effect.parts[actuator];
  if (part.holds) return;
  const Effect effect = plan.actuators[actuator].effect;
  if (effect == Effect::humidify && moves_nothing(Effect::fresh_air)) return;
  part.holds = true;
  part.by = q;
  part.share = share;
  part.portions_moved = 0;
  part.extreme.reset();
}

bool Chamber::State::moves_nothing(Effect effect) const {
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (plan.actuators[i].effect == effect && no_effect.parts[i].holds) return true;
  }
  return false;
}

void Chamber::State::take_effects(const std::vector<ActuatorPlan>& wanted) {
  std::vector<NoEffect::Part> next(wanted.size());
  for (std::size_t j = 0; j < no_effect.parts.size(); ++j) {
    bool stays = false;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
      if (plan.actuators[j].id != wanted[i].id || plan.actuators[j].effect != wanted[i].effect) {
        continue;
      }
      next[i] = no_effect.parts[j];
      stays = true;
    }
    if (!stays && no_effect.parts[j].alarm.raised()) {
      orphans.push_back({plan.id, no_effect_cause(plan.actuators[j].id)});
    }
  }
  no_effect.parts = std::move(next);
  no_effect.forget();
}

void Chamber::State::alert_effects(Effects& effects, bool quiet, bool empty, Instant now) {
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    NoEffect::Part& part = no_effect.parts[i];
    if (quiet) {
      keep_quiet(part.alarm);
      continue;
    }
    if (empty) part.holds = false;
    const auto change = part.alarm.judge(part.holds, Duration{0}, Duration{0}, now);
    note(effects, change, part.alarm, [&] {
      return ToldAlert{{plan.id, no_effect_cause(plan.actuators[i].id)},
                       AlertRank::today,
                       no_effect_text(plan.id, plan.actuators[i], part)};
    });
  }
}

}  // namespace tubwarden
