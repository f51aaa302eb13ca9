#include "core/chamber/drift.hpp"

#include <algorithm>

#include "base/ensure.hpp"
#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

/// Whether a run of this effect moves the quantity that way. A fan brings the room's air: of
/// humidity and temperature nobody counts on it.
bool turns(Effect effect, Quantity q, bool up) {
  switch (effect) {
    case Effect::humidify:
      return q == Quantity::humidity && !up;
    case Effect::dehumidify:
      return q == Quantity::humidity && up;
    case Effect::heat:
    case Effect::cool: {
      const bool warmth = q == Quantity::air_temperature || q == Quantity::substrate_temperature;
      return warmth && up == (effect == Effect::cool);
    }
    case Effect::fresh_air:
      return q == Quantity::co2 && up;
    case Effect::stir:
    case Effect::light:
      return false;
  }
  ENSURE(false);
}

/// Whether it may itself be what drives the quantity that way: that ends with its run, and is no
/// drift.
bool drives(const Chamber::State& s, std::size_t i, Quantity q, bool up, Duration window,
            Instant now) {
  const Effect effect = s.plan.actuators[i].effect;
  const bool airs = effect == Effect::fresh_air && q == Quantity::humidity;
  if (!airs && !turns(effect, q, !up)) return false;
  const ActuatorState& a = s.actuators[i];
  return a.level > kRest || (a.ran_until && now - *a.ran_until <= window);
}

Duration answers(Effect effect) {
  return effect == Effect::heat || effect == Effect::cool ? kWarmthAnswers : kAirAnswers;
}

/// Whether it has been run, or run again and again, for as long as it may take to answer. One that
/// cannot run, or that a hand holds, or whose runs move nothing, is not waited for.
bool called(const Chamber::State& s, std::size_t i, Instant now) {
  const ActuatorState& a = s.actuators[i];
  const std::string& id = s.plan.actuators[i].id;
  if (!a.usable || s.no_effect.parts[i].holds || s.hand(HandKind::keep_at, id)) return true;
  const Duration wait = answers(s.plan.actuators[i].effect);
  const bool lately = a.level > kRest || (a.ran_until && now - *a.ran_until <= wait / 2);
  return lately && a.called_since && now - *a.called_since >= wait;
}

}  // namespace

void Chamber::State::note_called(std::size_t actuator, Level level, Instant now) {
  ActuatorState& a = actuators[actuator];
  const Duration close = answers(plan.actuators[actuator].effect) / 2;
  if (a.level == kRest && (!a.ran_until || now - *a.ran_until > close)) a.called_since = now;
  if (level == kRest) a.ran_until = now;
}

void Chamber::State::heed_drift(Quantity q, Instant now) {
  DriftState& drift = drifts.of[index_of(q)];
  const auto sensed = air.usable(q, now);
  if (!sensed || sensed->at_least) {
    drift.watch.forget();
    drift.leaving.reset();
    return;
  }
  if (!drift.watch.reading(sensed->value, now)) return;
  drift.leaving.reset();
  const QuantityState& state = of(q);
  // While the band itself moves, the air is meant to.
  if (!state.kept || state.glide_shift != 0.0) return;
  const Band& band = state.kept->band;
  const double least = std::max(kDriftOfBand * band.width(), kDriftQuanta * air.quantum(q));
  const auto speed = drift.watch.drift(least);
  if (!speed) return;
  const bool up = *speed > 0.0;
  if (up ? !state.kept->lowers : !state.kept->raises) return;
  const bool inside = up ? sensed->value <= band.high : sensed->value >= band.low;
  const auto at = drift.watch.reaches(up ? band.high : band.low, least);
  if (!inside || !at || *at <= now) return;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    if (drives(*this, i, q, up, drift.watch.window(), now)) return;
    if (!turns(plan.actuators[i].effect, q, up)) continue;
    if (!called(*this, i, now)) return;
  }
  drift.leaving = Leaving{up, *at};
}

std::optional<Leaving> Chamber::State::leaving(Quantity q, Instant now) const {
  const auto& told = drifts.of[index_of(q)].leaving;
  if (!told || told->at <= now || !air.usable(q, now) || !of(q).kept) return std::nullopt;
  return told;
}

}  // namespace tubwarden
