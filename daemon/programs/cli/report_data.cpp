#include <cmath>
#include <nlohmann/json.hpp>

#include "programs/cli/rehearsed_rows.hpp"
#include "programs/cli/report.hpp"

namespace tubwarden::cli {
namespace {

using ReportJson = nlohmann::ordered_json;
using rehearsal::Extent;
using rehearsal::Trace;

/// Figures are told as whole numbers of this many a unit: short, and as fine as a pixel.
int scale_of(Quantity q) { return q == Quantity::co2 ? 1 : 20; }

ReportJson whole(double value, int scale) {
  return std::isfinite(value) ? ReportJson(std::lround(value * scale)) : ReportJson();
}

ReportJson extents(const std::vector<Extent>& of, int scale) {
  ReportJson least = ReportJson::array(), most = ReportJson::array();
  for (const Extent& e : of) {
    least.push_back(e.empty() ? ReportJson() : whole(e.least, scale));
    most.push_back(e.empty() ? ReportJson() : whole(e.most, scale));
  }
  return {{"least", least}, {"most", most}};
}

bool sensed_at_all(const Trace& trace, Quantity q) {
  for (const Extent& e : trace.of(q).sensed) {
    if (!e.empty()) return true;
  }
  return false;
}

/// What is kept or measured; nothing else has a strip.
ReportJson strip(const Trace& trace, const Trace* beside, Quantity q) {
  const int scale = scale_of(q);
  ReportJson bands = ReportJson::array();
  for (const rehearsal::TracedBand& b : trace.bands(q)) {
    const Band none{NAN, NAN};
    const Band& band = b.band.value_or(none);
    bands.push_back(
        {b.column, b.band.has_value(), whole(band.low, scale), whole(band.high, scale)});
  }
  ReportJson row = {{"word", word_of(q)},
                    {"unit", unit_of(q)},
                    {"scale", scale},
                    {"bands", bands},
                    {"truth", extents(trace.of(q).truth, scale)},
                    {"sensed", extents(trace.of(q).sensed, scale)}};
  if (beside != nullptr) row["beside"] = extents(beside->of(q).truth, scale);
  return row;
}

ReportJson actuators_json(const Trace& trace, const ChamberPlan& chamber) {
  ReportJson rows = ReportJson::array();
  for (std::size_t i = 0; i < chamber.actuators.size(); ++i) {
    ReportJson duty = ReportJson::array();
    for (const float run_s : trace.runs()[i]) {
      // A run of a second in an hour's column is still a tick.
      const double permille = 1000.0 * run_s / trace.column_s();
      duty.push_back(permille > 0.0 ? std::max(1L, std::lround(permille)) : 0L);
    }
    rows.push_back({{"id", chamber.actuators[i].id}, {"duty", duty}});
  }
  return rows;
}

ReportJson alerts_json(const Trace& trace) {
  ReportJson rows = ReportJson::array();
  for (const rehearsal::TracedAlert& a : trace.alerts()) {
    rows.push_back({{"at_s", std::lround(seconds_of(a.at))}, {"cause", a.cause}});
  }
  return rows;
}

ReportJson faults_json(const Rehearsed& r, const std::string& chamber) {
  ReportJson rows = ReportJson::array();
  for (std::size_t i = 0; i < r.faults.size(); ++i) {
    const FaultLine& fault = r.faults[i];
    if (!fault.chamber.empty() && fault.chamber != chamber) continue;
    rows.push_back({{"number", i + 1},
                    {"word", fault.fault},
                    {"from_s", std::lround(seconds_of(fault.at))},
                    {"to_s", std::lround(seconds_of(fault.at + fault.lasts))}});
  }
  return rows;
}

ReportJson air_json(const Rehearsed& r, std::size_t i) {
  const rehearsal::PlayedAir& air = r.played.airs[i];
  const Trace& trace = r.played.traces.at(i);
  const Trace* beside = r.beside ? &r.beside->traces.at(i) : nullptr;
  ReportJson tubs = ReportJson::array(), strips = ReportJson::array();
  for (const rehearsal::TubTally& tub : air.tubs) {
    ReportJson phases = ReportJson::array();
    for (const auto& phase : tub.phases) {
      phases.push_back({{"phase", phase.phase},
                        {"from_s", std::lround(seconds_of(phase.from))},
                        {"to_s", std::lround(seconds_of(phase.to))}});
    }
    tubs.push_back({{"tub", tub.tub}, {"phases", phases}});
  }
  for (Quantity q : kAllQuantities) {
    if (sensed_at_all(trace, q) || !trace.bands(q).empty()) {
      strips.push_back(strip(trace, beside, q));
    }
  }
  return {{"chamber", air.chamber.id},
          {"tubs", tubs},
          {"strips", strips},
          {"actuators", actuators_json(trace, air.chamber)},
          {"faults", faults_json(r, air.chamber.id)},
          {"alerts", alerts_json(trace)}};
}

}  // namespace

std::string report_data(const Rehearsed& r) {
  ReportJson airs = ReportJson::array();
  for (std::size_t i = 0; i < r.played.airs.size(); ++i) airs.push_back(air_json(r, i));
  const ReportJson all = {
      {"length_s", seconds_of(r.length)}, {"columns", kReportColumns}, {"airs", airs}};
  std::string text = all.dump(-1, ' ', true, ReportJson::error_handler_t::replace);
  // Nothing in it may end the element that it stands in.
  for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos;) {
    text.replace(at, 1, "\\u003c");
  }
  return text;
}

}  // namespace tubwarden::cli
