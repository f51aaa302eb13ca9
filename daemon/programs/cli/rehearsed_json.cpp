#include <cmath>
#include <nlohmann/json.hpp>

#include "programs/cli/rehearse.hpp"

namespace tubwarden::cli {
namespace {

using RehearsedJson = nlohmann::ordered_json;

RehearsedJson pct(const rehearsal::Share& share) {
  const auto of = share.of();
  return of ? RehearsedJson(std::round(1e4 * *of) / 100.0) : RehearsedJson();
}

RehearsedJson edge(double value) {
  return std::isfinite(value) ? RehearsedJson(value) : RehearsedJson();
}

RehearsedJson quantity_json(Quantity q, const rehearsal::QuantityTally& tally) {
  RehearsedJson row = {{"quantity", name_of(q)},
                       {"unit", unit_of(q)},
                       {"keep", nullptr},
                       {"in_band_true_pct", pct(tally.true_s)},
                       {"in_band_sensed_pct", pct(tally.sensed)},
                       {"over", tally.over},
                       {"under", tally.under},
                       {"reached_s", nullptr}};
  if (tally.band) row["keep"] = {edge(tally.band->low), edge(tally.band->high)};
  if (tally.reached) row["reached_s"] = seconds_of(*tally.reached);
  return row;
}

const char* amount_key(Effect effect) {
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return "water_g";
    case Effect::fresh_air:
    case Effect::stir:
      return "air_m3";
    case Effect::heat:
    case Effect::cool:
    case Effect::light:
      break;
  }
  return "energy_wh";
}

RehearsedJson run_json(const ActuatorPlan& a, const rehearsal::RunTally& run, double days) {
  const bool energy = std::string_view(amount_key(a.effect)) == "energy_wh";
  RehearsedJson row = {{"id", a.id},
                       {"effect", name_of(a.effect)},
                       {"starts", run.starts},
                       {"starts_per_day", run.starts / days},
                       {"run_s", run.run_s}};
  row[amount_key(a.effect)] =
      a.rate ? RehearsedJson(energy ? run.amount / 3.6 : run.amount) : RehearsedJson();
  return row;
}

RehearsedJson phase_json(const rehearsal::PlayedAir& air, const rehearsal::PhaseTally& phase,
                         bool leads) {
  RehearsedJson quantities = RehearsedJson::array(), runs = RehearsedJson::array();
  for (Quantity q : kAllQuantities) {
    const auto& tally = phase.quantities[index_of(q)];
    if (tally.true_s.all > 0.0) quantities.push_back(quantity_json(q, tally));
  }
  RehearsedJson row = {{"phase", phase.phase},
                       {"from_s", seconds_of(phase.from)},
                       {"to_s", seconds_of(phase.to)},
                       {"quantities", quantities}};
  if (leads) {
    for (std::size_t i = 0; i < phase.runs.size(); ++i) {
      runs.push_back(
          run_json(air.chamber.actuators[i], phase.runs[i], seconds_of(phase.lasted()) / 86400.0));
    }
    row["actuators"] = runs;
    row["casing_watered_g"] = phase.watered_g;
  }
  row["alerts"] = phase.alerts;
  return row;
}

RehearsedJson played_json(const Played& played) {
  RehearsedJson airs = RehearsedJson::array();
  for (const rehearsal::PlayedAir& air : played.airs) {
    RehearsedJson tubs = RehearsedJson::array();
    for (const rehearsal::TubTally& tub : air.tubs) {
      RehearsedJson phases = RehearsedJson::array();
      for (const auto& phase : tub.phases) phases.push_back(phase_json(air, phase, tub.leads));
      tubs.push_back({{"tub", tub.tub}, {"leads", tub.leads}, {"phases", phases}});
    }
    airs.push_back({{"chamber", air.chamber.id},
                    {"control", name_of(air.chamber.control)},
                    {"turns", air.turns},
                    {"tubs", tubs}});
  }
  return airs;
}

RehearsedJson fault_json(const FaultLine& fault) {
  const auto name = [](const std::string& text) {
    return text.empty() ? RehearsedJson() : RehearsedJson(text);
  };
  return {{"fault", fault.fault},
          {"chamber", name(fault.chamber)},
          {"part", name(fault.part)},
          {"from_s", seconds_of(fault.at)},
          {"to_s", seconds_of(fault.at + fault.lasts)}};
}

}  // namespace

std::string rehearsed_json(const Rehearsed& r) {
  RehearsedJson faults = RehearsedJson::array();
  for (const FaultLine& fault : r.faults) faults.push_back(fault_json(fault));
  RehearsedJson all = {{"site", r.site},
                       {"length_s", seconds_of(r.length)},
                       {"seed", r.seed},
                       {"airs", played_json(r.played)},
                       {"beside", r.beside ? played_json(*r.beside) : RehearsedJson()},
                       {"faults", faults},
                       {"assumed", r.assumed},
                       {"broken", r.broken}};
  return all.dump(2, ' ', false, RehearsedJson::error_handler_t::replace) + "\n";
}

}  // namespace tubwarden::cli
