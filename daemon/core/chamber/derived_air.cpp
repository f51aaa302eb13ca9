#include "core/chamber/derived_air.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/chamber/chamber_state.hpp"
#include "core/chamber/note.hpp"

namespace tubwarden {
namespace {

/// The relative humidity at which `d` has this value.
std::optional<double> humidity_at(Derived d, double value, const AirParts& parts) {
  if (!parts.air) return std::nullopt;
  const double full = saturation_pressure(*parts.air).value;
  switch (d) {
    case Derived::dew_point:
      return 100.0 * saturation_pressure(Celsius{value}).value / full;
    case Derived::humidity_ratio:
      return relative_humidity(*parts.air, value / 1000.0).value;
    case Derived::bed_drying:
      if (!parts.substrate) return std::nullopt;
      return 100.0 * (saturation_pressure(*parts.substrate).value - 1000.0 * value) / full;
  }
  ENSURE(false);
}

std::string amount(double value, Derived d) {
  return fmt::format("{} {}", trimmed(value, d == Derived::bed_drying ? 3 : 1), unit_of(d));
}

std::string advice(Derived d, bool low) {
  switch (d) {
    case Derived::dew_point:
      return low ? "The air is dry: look at the mister's water and the lid."
                 : "What is colder than this gets wet: let fresh air in, or warm the walls.";
    case Derived::humidity_ratio:
      return low ? "The air is dry: look at the mister's water and the lid."
                 : "The air holds much water: let fresh air in.";
    case Derived::bed_drying:
      return low ? "The bed does not dry: caps stay wet and blotch; let fresh air in."
                 : "The bed dries fast: look at the mister's water, the fan and the bed's warmth.";
  }
  ENSURE(false);
}

}  // namespace

std::optional<Derived> kept_derived(const PhasePlan& phase) {
  for (Derived d : kAllDerived) {
    if (phase.of(d) && phase.of(d)->keep) return d;
  }
  return std::nullopt;
}

std::optional<Band> humidity_band(Derived d, const Band& band, const AirParts& parts) {
  const auto a = humidity_at(d, band.low, parts);
  const auto b = humidity_at(d, band.high, parts);
  if (!a || !b) return std::nullopt;
  Band humid{std::min(*a, *b), std::max(*a, *b)};
  humid.high = std::clamp(humid.high, kDerivedWidthLeast, kDerivedHumidityMost);
  humid.low = std::clamp(humid.low, 0.0, humid.high - kDerivedWidthLeast);
  return humid;
}

AirParts Chamber::State::air_parts(Instant now) const {
  const auto usable = [&](Quantity q) { return air.usable(q, now); };
  AirParts found;
  if (const auto v = usable(Quantity::humidity)) found.humidity = Percent{v->value};
  if (const auto v = usable(Quantity::air_temperature)) found.air = Celsius{v->value};
  if (const auto v = usable(Quantity::substrate_temperature)) found.substrate = Celsius{v->value};
  return found;
}

void Chamber::State::judge_derived(const PhasePlan* phase, Instant now) {
  parts = air_parts(now);
  const auto kept = phase ? kept_derived(*phase) : std::nullopt;
  if (!kept) return;
  QuantityState& humid = of(Quantity::humidity);
  const auto band = humidity_band(*kept, *phase->of(*kept)->keep, parts);
  // Without a temperature nobody knows what the humidity should be: it is as good as not read.
  if (!band) humid.sensed.reset();
  humid.kept = KeptBand{band.value_or(Band{0.0, kDerivedHumidityMost})};
  if (humid.sensed) {
    humid.hysteresis.judge(humid.sensed->value, *humid.kept);
  } else {
    humid.hysteresis.reset();
  }
}

void Chamber::State::alert_derived(Effects& effects, const PhasePlan* phase, bool quiet,
                                   Duration elapsed, Instant now) {
  for (Derived d : kAllDerived) {
    DerivedState& state = derived[index_of(d)];
    const Warn* warn = phase && phase->of(d) && phase->of(d)->warn ? &*phase->of(d)->warn : nullptr;
    const auto value = warn ? tubwarden::derived(d, parts) : std::nullopt;
    for (const bool low : {true, false}) {
      AlertTimer& timer = low ? state.low : state.high;
      if (quiet) {
        keep_quiet(timer);
        continue;
      }
      const std::optional<double> limit = !warn ? std::nullopt : low ? warn->below : warn->above;
      const bool out = limit && value && (low ? *value < *limit : *value > *limit);
      const auto tell = [&] {
        std::string text = fmt::format("{}: {} is not judged for now.", plan.id, word_of(d));
        if (limit && value) {
          text = fmt::format("{}: {} {} is {} {}.{}{}", plan.id, word_of(d), amount(*value, d),
                             out ? (low ? "below" : "above") : "back inside", amount(*limit, d),
                             out ? " " : "", out ? advice(d, low) : "");
        }
        return ToldAlert{{plan.id, fmt::format("{}_{}", name_of(d), low ? "low" : "high")},
                         AlertRank::today,
                         std::move(text)};
      };
      if (!limit || elapsed < phase->settle_other) {
        if (limit) wake_by(effects, now + (phase->settle_other - elapsed), now);
        note(effects, timer.withdraw(), timer, tell);
        continue;
      }
      if (!value) continue;  // the sensors alert for themselves
      const bool holds = beyond(*value, *limit, low, warn->deadband, timer.raised());
      note(effects, timer.judge(holds, warn->on_delay, warn->off_delay, now), timer, tell);
      wake_by(effects, timer.due(), now);
    }
  }
}

std::array<DerivedView, kDerived> Chamber::derived() const {
  std::array<DerivedView, kDerived> views;
  const PhasePlan* phase = state_->phase_plan();
  for (Derived d : kAllDerived) {
    DerivedView& view = views[index_of(d)];
    view.value = tubwarden::derived(d, state_->parts);
    if (!phase || !phase->of(d)) continue;
    view.keep = phase->of(d)->keep;
    if (!phase->of(d)->warn) continue;
    view.warn_below = phase->of(d)->warn->below;
    view.warn_above = phase->of(d)->warn->above;
  }
  return views;
}

}  // namespace tubwarden
