// Dew and wet surfaces: when mist would only wet the bed, and how long caps have not dried.

#include "core/chamber/surfaces.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>

#include "base/text.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/chamber/fan_talk.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

/// A gentle draught: so much of each minute.
constexpr Duration kGentleEach = minutes(1), kGentleRun = seconds(15);

/// Caps and casing lie open to the air from pinning on, and in a profile's own phases.
bool lies_open(const PhasePlan& phase) {
  const auto masters = fan_order(phase.name);
  return phase.name != kPhaseEmpty &&
         std::find(masters.begin(), masters.end(), FanMaster::co2) != masters.end();
}

DewReason dew_reason(const Surfaces& surfaces) {
  const bool bed = surfaces.bed.holds();
  return {(bed ? surfaces.seen.bed_c : surfaces.lid_c).value_or(0.0), surfaces.dew_c.value_or(0.0),
          !bed};
}

}  // namespace

/// Only what is colder than the air can be below its dew point.
void Chamber::State::look_at_surfaces(const Surfaces::Seen& seen) {
  Surfaces& s = surfaces;
  s.seen = seen;
  s.dew_c.reset();
  s.lid_c.reset();
  s.deficit.reset();
  if (!seen.humidity || !seen.air_c) {
    s.bed.reset();
    s.lid.reset();
    return;
  }
  const Celsius air_t{*seen.air_c};
  const Pascal vapour = vapour_pressure(air_t, Percent{*seen.humidity});
  const auto judge = [&](DewGuard& guard, const std::optional<double>& surface) {
    if (surface && *surface < air_t.value) {
      guard.judge(Celsius{*surface}, vapour);
    } else {
      guard.reset();
    }
  };
  judge(s.bed, seen.bed_c);
  if (seen.room_c) s.lid_c = lid_temperature(air_t, Celsius{*seen.room_c}).value;
  judge(s.lid, s.lid_c);
  if (s.bed.holds() || s.lid.holds()) {
    if (const auto dew = dew_point(vapour)) s.dew_c = dew->value;
  }
  // Caps stand in the air, the casing lies on the bed.
  const Celsius coldest{std::min(air_t.value, seen.bed_c.value_or(air_t.value))};
  s.deficit = Pascal{saturation_pressure(coldest).value - vapour.value};
}

void Chamber::State::judge_surfaces(const PhasePlan* phase, Instant now) {
  Surfaces::Seen seen;
  if (parts.humidity) seen.humidity = parts.humidity->value;
  if (parts.air) seen.air_c = parts.air->value;
  if (parts.substrate) seen.bed_c = parts.substrate->value;
  seen.room_c = room_of(event::RoomQuantity::temperature, now);
  if (seen != surfaces.seen) look_at_surfaces(seen);
  if (!phase || !lies_open(*phase)) {
    // After a start the phase is not known yet, and what was watered before is.
    const TubState* tub = leader();
    if (tub && !tub->phase.phase.empty()) surfaces.film.forget();
    return;
  }
  std::optional<SurfaceFilm::Air> film_air;
  if (surfaces.deficit && !hand(HandKind::attend)) {
    film_air = {*seen.humidity, *surfaces.deficit};
  }
  surfaces.film.follow(film_air, now);
}

std::optional<Instant> Chamber::State::dries_until(const PhasePlan* phase, Instant now) const {
  if (!phase || !phase->dry_after_watering || !lies_open(*phase) || !surfaces.film.wet()) {
    return std::nullopt;
  }
  std::optional<Instant> until;
  for (const WaterMark& mark : ledger.book.state().marks) {
    if (mark.given_ml <= 0.0) continue;
    const Instant end = now - ledger.book.account(mark.tub, {})->since + *phase->dry_after_watering;
    if (end > now) until = std::max(until.value_or(end), end);
  }
  return until;
}

void Chamber::State::alert_surfaces(Effects& effects, const PhasePlan* phase, bool quiet,
                                    Instant now) {
  AlertTimer& timer = surfaces.wet_alert;
  if (quiet) return keep_quiet(timer);
  const auto tell = [&] {
    const auto since = surfaces.film.since();
    std::string text = fmt::format("{}: its surfaces could dry again.", plan.id);
    if (since) {
      text = fmt::format(
          "{}: its surfaces have been wet for {}: wet caps blotch. Let drier air "
          "in, and water less, or earlier in the day.",
          plan.id, spoken(now - *since));
    }
    return ToldAlert{{plan.id, "surface_wet"}, AlertRank::today, std::move(text)};
  };
  if (!phase || !phase->surface_wet_warn) return note(effects, timer.withdraw(), timer, tell);
  const auto since = surfaces.film.since();
  const bool long_wet = since && now - *since >= *phase->surface_wet_warn;
  if (since && !long_wet) wake_by(effects, *since + *phase->surface_wet_warn, now);
  note(effects, timer.judge(long_wet, Duration{0}, Duration{0}, now), timer, tell);
}

std::optional<Wish> dew_wish(const Chamber::State& s, const ActuatorState& state, bool doses) {
  const QuantityState& humid = s.of(Quantity::humidity);
  if (!humid.kept || !humid.kept->raises || !humid.sensed) return std::nullopt;
  // A portion that is under way is over in seconds, and is judged as a whole.
  if (doses && state.gate.running()) return std::nullopt;
  // Behind a cool lid the band is kept all the same, from its start point.
  const bool lid = s.surfaces.lid.holds() && humid.sensed->value >= humid.kept->raise_start();
  if (!s.surfaces.bed.holds() && !lid) return std::nullopt;
  Wish wish = resting(Why::dew_held);
  wish.cuts = humid.sensed->value > humid.kept->band.high;
  wish.reason.quantity = Quantity::humidity;
  wish.reason.value = humid.sensed->value;
  wish.reason.start = humid.kept->raise_start();
  wish.reason.stop = humid.kept->band.middle();
  wish.reason.dew = dew_reason(s.surfaces);
  return wish;
}

bool ask_dew(const Chamber::State& s, FanTalk& talk, Instant now) {
  const QuantityState& humid = s.of(Quantity::humidity);
  if (!s.surfaces.bed.holds() || !humid.kept || !humid.sensed) return false;
  // It takes the dew away, not the humidity that the phase keeps.
  if (humid.kept->raises && humid.sensed->value <= humid.kept->raise_start()) return false;
  if (s.runs_anywhere(Effect::humidify) || !room_is_drier(s, now)) return false;
  Reason reason = lowering(s, Quantity::humidity);
  reason.dew = dew_reason(s.surfaces);
  talk.say(FanMaster::humidity_high, Say::calls, reason);
  return true;
}

std::optional<Wish> drying_wish(const Chamber::State& s, const PhasePlan& phase, Effects& effects,
                                Instant now) {
  const auto until = s.dries_until(&phase, now);
  if (!until) return std::nullopt;
  wake_by(effects, until, now);
  Wish wish = resting(Why::drying);
  wish.cuts = true;
  wish.reason.dries_until = until;
  return wish;
}

bool ask_drying(const Chamber::State& s, FanTalk& talk, const PhasePlan& phase, Instant now) {
  const auto until = s.dries_until(&phase, now);
  const QuantityState& humid = s.of(Quantity::humidity);
  if (!until || !humid.sensed) return false;
  if (humid.kept && humid.sensed->value < humid.kept->band.low - humid.kept->band.width()) {
    return false;  // drier than that harms pins
  }
  if (!room_is_drier(s, now)) return false;
  const Duration into = kGentleEach - (*until - now) % kGentleEach;
  const bool runs = into < kGentleRun;
  const Instant next = now + (runs ? kGentleRun - into : kGentleEach - into);
  talk.wake = talk.wake ? std::min(*talk.wake, next) : next;
  if (!runs) return true;
  Reason reason;
  reason.dries_until = until;
  talk.say(FanMaster::humidity_high, Say::calls, reason);
  return true;
}

SurfacesView Chamber::surfaces(Instant now) const {
  const Surfaces& s = state_->surfaces;
  SurfacesView view;
  view.dew_on_bed = s.bed.holds();
  view.dew_on_lid = s.lid.holds();
  if (s.film.since()) view.wet_for = now - *s.film.since();
  if (const auto until = state_->dries_until(state_->phase_plan(), now)) {
    view.dries_for = *until - now;
  }
  return view;
}

}  // namespace tubwarden
