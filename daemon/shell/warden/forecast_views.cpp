#include "shell/warden/forecast_views.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// Grain is kept at 23 to 25 C where the profile keeps no temperature.
constexpr Band kGrainUsualC{23.0, 25.0};
/// Substrate runs above its air (common practice, no source).
constexpr double kPickBedAboveAirC = 1.5;

Json span_view(const ForecastSpan& span) {
  return {{"early", rfc3339(span.early)},
          {"likely", rfc3339(span.likely)},
          {"late", rfc3339(span.late)}};
}
Json span_or_null(const std::optional<ForecastSpan>& span) {
  return span ? span_view(*span) : Json(nullptr);
}
Json error_view(const ForecastError& error) {
  return {{"off_h", std::round(seconds_of(error.off) / 360.0) / 10.0}, {"within", error.within}};
}
double rounded_to_tenth(double value) { return std::round(value * 10.0) / 10.0; }

/// The band that a phase keeps, where it keeps one from below and above.
std::optional<Band> band_of(const PhasePlan* phase, Quantity q) {
  if (!phase || !phase->of(q) || !phase->of(q)->keep) return std::nullopt;
  const Keep& keep = *phase->of(q)->keep;
  if (keep.form != Keep::Form::between) return std::nullopt;
  return Band{keep.low, keep.high};
}

const PhasePlan* grain_of(const Warden::State& s, const Jar& jar) {
  const auto shelf = s.tubs.find(jar.shelf);
  if (shelf != s.tubs.end() && shelf->second.plan.profile) {
    if (const PhasePlan* phase = shelf->second.plan.profile->find(kPhaseGrain)) return phase;
  }
  for (const auto& [id, tub] : s.tubs) {
    if (tub.plan.batch != jar.batch || !tub.plan.profile) continue;
    if (const PhasePlan* phase = tub.plan.profile->find(kPhaseGrain)) return phase;
  }
  return nullptr;
}

WallTime end_of(const Jar& jar, WallTime now) {
  return jar.stands() ? now : std::min(now, jar.fate_at);
}

/// A case of one jar, and whose window it is.
struct JarCase {
  ColonizationCase jar;
  bool profiles_window = true;
};
JarCase case_of(const Warden::State& s, const Jar& jar, const PastWarmth& past, WallTime now) {
  const PhasePlan* grain = grain_of(s, jar);
  const Band band = band_of(grain, Quantity::air_temperature).value_or(kGrainUsualC);
  JarCase found;
  found.profiles_window = grain && grain->expect.from && grain->expect.to;
  ColonizationCase& c = found.jar;
  c.inoculated = *jar.inoculated;
  c.now = end_of(jar, now);
  for (const JarLook& look : jar.looks) {
    if (look.at <= c.now) c.looks.push_back({look.at, look.grown_pct});
  }
  if (c.looks.size() > kLooksMost) c.looks.erase(c.looks.begin(), c.looks.end() - kLooksMost);
  for (const WallTime shaken : jar.shaken) {
    if (shaken <= c.now) c.shakes.push_back(shaken);
  }
  c.history = past.air(stays_of(jar, c.now));
  c.ahead = {band.middle()};
  c.ahead_halfwidth_c = band.width() / 2.0;
  c.window_from = found.profiles_window ? *grain->expect.from : kGrainUsual.from;
  c.window_to = found.profiles_window ? *grain->expect.to : kGrainUsual.to;
  return found;
}

std::string basis_text(const ColonizationForecast& told, bool profiles_window) {
  const std::string since = told.shaken ? " since the shake" : "";
  if (told.basis == ForecastBasis::looks) {
    return fmt::format("from {} looks{}", told.looks_used, since);
  }
  return fmt::format("{}: fewer than three looks{}",
                     profiles_window ? "the profile's window" : "the usual two to three weeks",
                     since);
}

/// What the looks before said of the moment at which one found it full.
Json error_in_hindsight(const ColonizationCase& jar, WallTime seen_full) {
  ColonizationCase before = jar;
  std::erase_if(before.looks, [&](const GrownLook& look) { return look.at >= seen_full; });
  std::erase_if(before.shakes, [&](WallTime shaken) { return shaken >= seen_full; });
  if (before.looks.size() < kLooksLeast) return nullptr;
  before.now = before.inoculated;
  for (const GrownLook& look : before.looks) before.now = std::max(before.now, look.at);
  for (const WallTime shaken : before.shakes) before.now = std::max(before.now, shaken);
  const auto told = forecast_colonization(before);
  if (!told.ok() || told->basis != ForecastBasis::looks) return nullptr;
  Json view = error_view(error_of(told->full, seen_full));
  view["told"] = span_view(told->full);
  view["told_at"] = rfc3339(before.now);
  return view;
}

std::string why_no_forecast(const Jar& jar) {
  if (!jar.inoculated) return "it is not inoculated yet";
  switch (jar.fate) {
    case JarFate::contaminated:
      return "it is contaminated";
    case JarFate::discarded:
      return "it was discarded";
    case JarFate::standing:
    case JarFate::mixed:
      return "";
  }
  return "";
}

PickCase pick_case_of(const Warden::State& s, const Bed& bed, const Flush& flush,
                      const PastWarmth& past, WallTime now) {
  PickCase c;
  const auto tub = s.tubs.find(bed.tub);
  const PhasePlan* phase = tub != s.tubs.end() && tub->second.plan.profile
                               ? tub->second.plan.profile->find(kPhaseFruiting)
                               : nullptr;
  if (const auto kept = band_of(phase, Quantity::substrate_temperature)) {
    c.ahead = {kept->middle()};
  } else if (const auto air = band_of(phase, Quantity::air_temperature)) {
    c.ahead = {air->middle() + kPickBedAboveAirC};
  }
  c.pins = {{*flush.pins, flush.pin_mm}};
  c.now = flush.picks.empty() ? now : std::min(now, flush.picks.front().at);
  c.history = past.bed({{bed.tub, *flush.pins, c.now}});
  c.zone = duration_cast<minutes>(s.east_of_utc());
  // What came is held against what was told when the pins were seen.
  if (!flush.picks.empty()) c.now = *flush.pins;
  return c;
}

}  // namespace

std::optional<ColonizationForecast> forecast_of(const Warden::State& s, const Jar& jar,
                                                const PastWarmth& past, WallTime now) {
  if (!why_no_forecast(jar).empty()) return std::nullopt;
  const auto told = forecast_colonization(case_of(s, jar, past, now).jar);
  return told.ok() ? std::optional(*told) : std::nullopt;
}

std::optional<PickForecast> forecast_of(const Warden::State& s, const Bed& bed,
                                        const PastWarmth& past, WallTime now) {
  const Flush* flush = flush_with_pins(bed);
  if (!flush) return std::nullopt;
  const auto told = forecast_pick(pick_case_of(s, bed, *flush, past, now));
  return told.ok() ? std::optional(*told) : std::nullopt;
}

std::vector<StoodOn> stays_of(const Jar& jar, WallTime now) {
  std::vector<StoodOn> stays;
  const WallTime end = end_of(jar, now);
  for (std::size_t i = 0; i < jar.stays.size(); ++i) {
    const WallTime to = i + 1 < jar.stays.size() ? jar.stays[i + 1].from : end;
    if (!jar.stays[i].shelf.empty()) stays.push_back({jar.stays[i].shelf, jar.stays[i].from, to});
  }
  return stays;
}

const Flush* flush_with_pins(const Bed& bed) {
  for (auto flush = bed.flushes.rbegin(); flush != bed.flushes.rend(); ++flush) {
    if (flush->pins) return &*flush;
  }
  return nullptr;
}

Json jar_foreseen(const Warden::State& s, const Jar& jar, const PastWarmth& past, WallTime now) {
  Json view = {{"jar", jar.id}, {"batch", jar.batch}};
  const std::string missing = why_no_forecast(jar);
  view["missing"] = missing.empty() ? Json(nullptr) : Json(missing);
  if (!missing.empty()) return view;
  const JarCase c = case_of(s, jar, past, now);
  const auto told = forecast_colonization(c.jar);
  if (!told.ok()) {
    view["missing"] = told.error().text;
    return view;
  }
  const bool fitted = told->basis == ForecastBasis::looks;
  view["basis"] = fitted ? "looks" : "window";
  view["basis_text"] = basis_text(*told, c.profiles_window);
  view["looks"] = told->looks_used;
  view["interval_pct"] = fitted ? Json(80) : Json(nullptr);
  view["shaken"] = jar.shaken.empty() ? Json(nullptr) : Json(rfc3339(jar.shaken.front()));
  view["shake_from"] = span_or_null(told->shake_from);
  view["shake_to"] = span_or_null(told->shake_to);
  view["full"] = span_view(told->full);
  view["full_pct"] = kFullPct;
  view["mixed"] = jar.fate == JarFate::mixed ? Json(rfc3339(jar.fate_at)) : Json(nullptr);
  view["seen_full"] = told->seen_full ? Json(rfc3339(*told->seen_full)) : Json(nullptr);
  view["error"] = told->seen_full ? error_in_hindsight(c.jar, *told->seen_full) : Json(nullptr);
  view["temperature_known_pct"] = std::round(told->known_temperature * 100.0);
  view["warm_days"] = rounded_to_tenth(told->warm_days);
  view["ahead_c"] = c.jar.ahead.value;
  return view;
}

Json bed_foreseen(const Warden::State& s, const Bed& bed, const PastWarmth& past, WallTime now) {
  Json view = {{"tub", bed.tub}, {"batch", bed.batch}, {"missing", nullptr}};
  const Flush* flush = flush_with_pins(bed);
  if (!flush) {
    view["missing"] = fmt::format("no pins are noted; tubwarden pins {} --size 3mm", bed.tub);
    return view;
  }
  const PickCase c = pick_case_of(s, bed, *flush, past, now);
  const auto told = forecast_pick(c);
  if (!told.ok()) {
    view["missing"] = told.error().text;
    return view;
  }
  view["flush"] = flush->number;
  view["pins"] = {{"at", rfc3339(*flush->pins)}, {"size_mm", flush->pin_mm}};
  view["basis_text"] = fmt::format("from pins of {} mm, caps of {} mm are picked",
                                   trimmed(flush->pin_mm, 1), trimmed(c.pick_size_mm));
  view["ready"] = span_view(told->ready);
  view["interval_pct"] = 80;
  view["evening"] = rfc3339(told->evening);
  view["evening_early"] = rfc3339(told->evening_early);
  view["evening_late"] = rfc3339(told->evening_late);
  view["size_now_mm"] = rounded_to_tenth(told->size_now_mm);
  view["ahead_c"] = c.ahead.value;
  const bool picked = !flush->picks.empty();
  view["first_pick"] = picked ? Json(rfc3339(flush->picks.front().at)) : Json(nullptr);
  view["error"] =
      picked ? error_view(error_of(told->ready, flush->picks.front().at)) : Json(nullptr);
  return view;
}

}  // namespace tubwarden
