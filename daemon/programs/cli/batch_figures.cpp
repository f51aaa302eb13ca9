#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "programs/cli/batch_page.hpp"

namespace tubwarden::cli {
namespace {

using FigureJson = nlohmann::ordered_json;

std::string csv_words(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

double days_between(WallTime from, WallTime to) { return seconds_of(to - from) / 86400.0; }

std::optional<WallTime> first_pick(const BatchReport& report) {
  std::optional<WallTime> first;
  for (const ReportBed& bed : report.beds) {
    for (const ReportFlush& flush : bed.flushes) {
      for (const ReportPick& pick : flush.picks) first = std::min(first.value_or(pick.at), pick.at);
    }
  }
  return first;
}

/// By time, of all phases of all tubs in which it was kept.
std::optional<double> inside_pct(const BatchReport& report, Quantity q) {
  double hours_all = 0.0, hours_inside = 0.0;
  for (const ReportPhase& phase : report.phases) {
    for (const ReportQuantity& kept : phase.quantities) {
      if (kept.quantity != q || !kept.inside_pct) continue;
      hours_all += kept.banded_h;
      hours_inside += kept.banded_h * *kept.inside_pct / 100.0;
    }
  }
  return hours_all > 0.0 ? std::optional(100.0 * hours_inside / hours_all) : std::nullopt;
}

/// One line of the CSV.
struct FigureLine {
  std::string of, figure;
  std::optional<WallTime> at;
  double value = 0.0;
  std::string unit;
};

void add_phases(const BatchReport& report, std::vector<FigureLine>& lines) {
  for (const ReportPhase& phase : report.phases) {
    const std::string of = fmt::format("{} {}{}", phase.tub, phase.phase,
                                       phase.flush > 0 ? fmt::format(" {}", phase.flush) : "");
    lines.push_back(
        {of, "lasted", phase.from, days_between(phase.from, phase.to.value_or(report.made)), "d"});
    for (const ReportQuantity& kept : phase.quantities) {
      const std::string name(name_of(kept.quantity)), unit(unit_of(kept.quantity));
      lines.push_back({of, name + " mean", phase.from, kept.mean, unit});
      lines.push_back({of, name + " least", phase.from, kept.least, unit});
      lines.push_back({of, name + " most", phase.from, kept.most, unit});
      if (kept.inside_pct) {
        lines.push_back({of, name + " in band", phase.from, *kept.inside_pct, "%"});
      }
    }
    for (const auto& [output, run_h] : phase.outputs_h) {
      lines.push_back({of, output + " ran", phase.from, run_h, "h"});
    }
  }
}

void add_crop(const BatchReport& report, std::vector<FigureLine>& lines) {
  for (const ReportBed& bed : report.beds) {
    for (const ReportFlush& flush : bed.flushes) {
      const std::string of = fmt::format("{} flush {}", bed.tub, flush.number);
      if (flush.pins) lines.push_back({of, "pins", flush.pins, flush.pin_mm, "mm"});
      for (const ReportPick& pick : flush.picks) {
        lines.push_back({of, "picked", pick.at, pick.grams, "g"});
      }
    }
  }
  for (const ReportJar& jar : report.jars) {
    for (const ReportJar::Look& look : jar.looks) {
      lines.push_back({jar.id, "grown through", look.at, look.grown_pct, "%"});
    }
  }
  for (const ReportForecast& f : report.forecasts) {
    lines.push_back({f.of, f.what + ", later than foretold", f.happened,
                     days_between(f.likely, f.happened), "d"});
  }
}

FigureJson jar_json(const ReportJar& jar) {
  FigureJson j = {{"id", jar.id},     {"grain", jar.grain},         {"culture", jar.culture},
                  {"run", jar.run},   {"dose_ml", jar.dose_ml},     {"fate", jar.fate},
                  {"days", jar.days}, {"fate_text", jar.fate_text}, {"into_tub", jar.into_tub}};
  j["inoculated_at"] = jar.inoculated ? FigureJson(rfc3339(*jar.inoculated)) : FigureJson();
  return j;
}

}  // namespace

std::vector<BatchFigure> batch_figures(const BatchReport& report) {
  const CropYield yield = report.yield();
  const auto count_jars = [&](const char* fate) {
    return static_cast<double>(
        std::count_if(report.jars.begin(), report.jars.end(),
                      [&](const ReportJar& jar) { return fate[0] == '\0' || jar.fate == fate; }));
  };
  int flushes = 0;  // tubs of a batch have theirs side by side
  for (const ReportBed& bed : report.beds) {
    for (const ReportFlush& flush : bed.flushes) {
      if (!flush.picks.empty()) flushes = std::max(flushes, flush.number);
    }
  }
  const auto first = first_pick(report);
  std::vector<BatchFigure> figures = {
      {"harvest", "g", report.grams(), 0},
      {"biological efficiency", "%", yield.biological_efficiency_pct, 1},
      {"of wet substrate", "%", yield.of_substrate_pct, 1},
      {"harvest by area", "kg/m2", yield.kg_m2, 2},
      {"water given by hand", "L/kg", yield.water_l_kg, 2},
      {"flushes picked", "", static_cast<double>(flushes), 0},
      {"jars", "", count_jars(""), 0},
      {"jars contaminated", "", count_jars("contaminated"), 0},
      {"length so far", "d", days_between(report.begins(), report.ends()), 1},
      {"until the first pick", "d",
       first ? std::optional(days_between(report.begins(), *first)) : std::nullopt, 1}};
  for (Quantity q : kAllQuantities) {
    figures.push_back({fmt::format("{} in band", word_of(q)), "%", inside_pct(report, q), 1});
  }
  return figures;
}

std::string figure_told(const BatchFigure& figure) {
  if (!figure.value) return "not known";
  return fmt::format("{:.{}f}{}{}", *figure.value, figure.digits, figure.unit.empty() ? "" : " ",
                     figure.unit);
}

std::string batches_csv(const std::vector<BatchReport>& reports) {
  std::string csv = "batch,of,figure,at,value,unit\r\n";
  for (const BatchReport& report : reports) {
    std::vector<FigureLine> lines;
    for (const BatchFigure& figure : batch_figures(report)) {
      if (figure.value) lines.push_back({"batch", figure.name, {}, *figure.value, figure.unit});
    }
    add_phases(report, lines);
    add_crop(report, lines);
    for (const FigureLine& line : lines) {
      csv += fmt::format("{},{},{},{},{},{}\r\n", csv_words(report.batch), csv_words(line.of),
                         csv_words(line.figure), line.at ? rfc3339(*line.at) : "",
                         trimmed(line.value, 4), line.unit);
    }
  }
  return csv;
}

std::string batches_json(const std::vector<BatchReport>& reports) {
  FigureJson all = FigureJson::array();
  for (const BatchReport& report : reports) {
    FigureJson figures = FigureJson::object();
    for (const BatchFigure& figure : batch_figures(report)) {
      figures[figure.name] = {{"value", figure.value ? FigureJson(*figure.value) : FigureJson()},
                              {"unit", figure.unit}};
    }
    std::vector<FigureLine> told;
    add_phases(report, told);
    add_crop(report, told);
    FigureJson lines = FigureJson::array(), jars = FigureJson::array();
    for (const FigureLine& line : told) {
      lines.push_back({{"of", line.of},
                       {"figure", line.figure},
                       {"at", line.at ? FigureJson(rfc3339(*line.at)) : FigureJson()},
                       {"value", line.value},
                       {"unit", line.unit}});
    }
    for (const ReportJar& jar : report.jars) jars.push_back(jar_json(jar));
    all.push_back({{"batch", report.batch},
                   {"site", report.site},
                   {"profile", report.profile},
                   {"made_at", rfc3339(report.made)},
                   {"figures", figures},
                   {"lines", lines},
                   {"jars", jars}});
  }
  return FigureJson{{"batches", all}}.dump(2, ' ', false, FigureJson::error_handler_t::replace) +
         "\n";
}

}  // namespace tubwarden::cli
