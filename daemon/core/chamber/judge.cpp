#include <algorithm>

#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

/// How much of the glide is still to go: 1 at the change, 0 once it is over, in steps.
double glide_left(const QuantityPlan& plan, Duration elapsed) {
  if (plan.glide <= Duration{0} || elapsed >= plan.glide) return 0.0;
  const Duration stepped = std::max(elapsed, Duration{0}) / kGlideStep * kGlideStep;
  return 1.0 - seconds_of(stepped) / seconds_of(plan.glide);
}

/// The glide of one quantity: finds its start once, and moves both edges of the band.
void glide(QuantityState& state, Quantity q, const QuantityPlan& plan, TubPhase& phase,
           Effects& effects, Instant now) {
  state.glide_shift = 0.0;
  const Duration elapsed = now - phase.since;
  const double left = glide_left(plan, elapsed);
  if (left <= 0.0 || plan.keep->form != Keep::Form::between) return;
  std::optional<double>& from = phase.glide_from[index_of(q)];
  if (!from) {
    from = state.recent.median(now);
    if (!from) return;
    effects.glides.push_back({phase.tub, q, *from});
  }
  const Duration into = std::max(elapsed, Duration{0}) % kGlideStep;
  wake_by(effects, now + std::min(kGlideStep - into, plan.glide - elapsed), now);
  state.glide_shift = (*from - state.kept->band.middle()) * left;
  state.kept->band.low += state.glide_shift;
  state.kept->band.high += state.glide_shift;
}

/// A ceiling is the tub's own, in every phase but empty; an unconfirmed tub is not known to be.
void judge_ceiling(TubState& tub, const std::optional<double>& hottest, bool by_air) {
  if (!tub.plan.substrate_ceiling_c || tub.phase.phase == kPhaseEmpty) {
    tub.ceiling_holds = false;
    tub.ceiling_value.reset();
    return;
  }
  if (!hottest) return;  // what held goes on holding until a reading frees it
  tub.ceiling_value = hottest;
  tub.ceiling_by_air = by_air;
  const double ceiling = *tub.plan.substrate_ceiling_c;
  if (*hottest >= ceiling) tub.ceiling_holds = true;
  if (*hottest <= ceiling - kCeilingRelease) tub.ceiling_holds = false;
}

}  // namespace

void Chamber::State::judge(Effects& effects, Instant now) {
  judge_sensors(now);
  const PhasePlan* phase = phase_plan();
  for (Quantity q : kAllQuantities) {
    QuantityState& state = of(q);
    state.sensed = air.usable(q, now);
    state.kept.reset();
    state.glide_shift = 0.0;
    if (!phase || !phase->of(q) || !phase->of(q)->keep) {
      state.hysteresis.reset();
      continue;
    }
    const double around = room_of(event::RoomQuantity::co2, now).value_or(kOutdoorCo2Ppm);
    state.kept = kept_band(*phase->of(q)->keep, around);
    glide(state, q, *phase->of(q), leader()->phase, effects, now);
    if (state.sensed) {
      state.hysteresis.judge(state.sensed->value, *state.kept);
    } else {
      state.hysteresis.reset();
    }
  }

  judge_derived(phase, now);
  steer_duty(now);
  judge_surfaces(phase, now);

  const auto substrate = air.hottest(Quantity::substrate_temperature, now);
  const auto air_now = air.hottest(Quantity::air_temperature, now);
  std::optional<double> hottest;
  if (substrate) {
    hottest = substrate;
  } else if (air_now) {
    hottest = *air_now + kAirToSubstrate;
  }
  for (TubState& tub : tubs) judge_ceiling(tub, hottest, !substrate.has_value());
}

}  // namespace tubwarden
