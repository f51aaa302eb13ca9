#include <algorithm>

#include "core/forecast/colonization.hpp"
#include "core/forecast/pick_clock.hpp"
#include "programs/cli/batch_read.hpp"

namespace tubwarden::cli {
namespace {

constexpr Duration kUsualWindowFrom = days(14), kUsualWindowTo = days(21);

/// The looks before the one that found it full, and that one.
struct LooksUntilFull {
  std::vector<GrownLook> before;
  std::optional<WallTime> full;
};

LooksUntilFull looks_until_full(const ReportJar& jar) {
  LooksUntilFull found;
  for (const ReportJar::Look& look : jar.looks) {
    if (look.grown_pct >= kFullPct) {
      found.full = look.at;
      break;
    }
    found.before.push_back({look.at, look.grown_pct});
  }
  return found;
}

/// Told at the third look, or where there were fewer at the inoculation, by the profile's window.
std::optional<ReportForecast> of_jar(const ReportJar& jar, const Profile* profile) {
  LooksUntilFull looks = looks_until_full(jar);
  if (!looks.full || !jar.inoculated) return std::nullopt;
  ColonizationCase known;
  known.inoculated = *jar.inoculated;
  known.now = known.inoculated;
  if (looks.before.size() >= kLooksLeast) {
    looks.before.resize(kLooksLeast);
    known.looks = looks.before;
    known.now = known.looks.back().at;
  }
  if (jar.shaken && *jar.shaken <= known.now) known.shakes = {*jar.shaken};
  const PhasePlan* grain = profile ? profile->find(kPhaseGrain) : nullptr;
  known.window_from = grain ? grain->expect.from.value_or(kUsualWindowFrom) : kUsualWindowFrom;
  known.window_to = grain ? grain->expect.to.value_or(kUsualWindowTo) : kUsualWindowTo;
  const auto told = forecast_colonization(known);
  if (!told.ok()) return std::nullopt;
  const bool fitted = told->basis == ForecastBasis::looks;
  return ReportForecast{jar.id,
                        fitted ? "grown through" : "grown through, by the profile's window",
                        known.now,
                        told->full.early,
                        told->full.likely,
                        told->full.late,
                        *looks.full};
}

/// The mean of the substrate in the phase that the pins were seen in.
Celsius substrate_at(const BatchReport& report, const std::string& tub, WallTime at) {
  for (const ReportPhase& phase : report.phases) {
    if (phase.tub != tub || at < phase.from || (phase.to && at >= *phase.to)) continue;
    for (const ReportQuantity& kept : phase.quantities) {
      if (kept.quantity == Quantity::substrate_temperature) return Celsius{kept.mean};
    }
  }
  return kPickReference;
}

std::optional<ReportForecast> of_flush(const BatchReport& report, const ReportBed& bed,
                                       const ReportFlush& flush) {
  if (!flush.pins || flush.picks.empty()) return std::nullopt;
  PickCase known;
  known.pins = {{*flush.pins, flush.pin_mm > 0.0 ? flush.pin_mm : kPinMm}};
  known.now = *flush.pins;
  known.ahead = substrate_at(report, bed.tub, *flush.pins);
  const auto told = forecast_pick(known);
  if (!told.ok()) return std::nullopt;
  return ReportForecast{bed.tub + ", flush " + std::to_string(flush.number),
                        "first pick",
                        known.now,
                        told->ready.early,
                        told->ready.likely,
                        told->ready.late,
                        flush.picks.front().at};
}

}  // namespace

void add_forecasts(BatchReport& report, const Profile* profile) {
  for (const ReportJar& jar : report.jars) {
    if (auto told = of_jar(jar, profile)) report.forecasts.push_back(std::move(*told));
  }
  for (const ReportBed& bed : report.beds) {
    for (const ReportFlush& flush : bed.flushes) {
      if (auto told = of_flush(report, bed, flush)) report.forecasts.push_back(std::move(*told));
    }
  }
}

}  // namespace tubwarden::cli
