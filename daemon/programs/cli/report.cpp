#include "programs/cli/report.hpp"

#include <fmt/format.h>

#include <array>
#include <fstream>

#include "base/text.hpp"
#include "programs/cli/markup.hpp"
#include "programs/cli/rehearsed_rows.hpp"
#include "programs/cli/report_parts.hpp"
#include "settings/file_text.hpp"

namespace tubwarden::cli {
namespace {

/// In the order in which they need each other.
constexpr std::array kChartModules = {
    "d3-array", "d3-collection", "d3-color",       "d3-format", "d3-interpolate", "d3-path",
    "d3-shape", "d3-time",       "d3-time-format", "d3-scale",  "d3-selection",   "d3-axis"};
constexpr std::size_t kModuleBytesMax = 1024 * 1024;
constexpr std::size_t kAlertsShown = 60;

std::string row_of(const char* cell, const std::vector<std::string>& texts) {
  std::string row = "<tr>";
  for (const std::string& text : texts) row += fmt::format("<{0}>{1}</{0}>", cell, escaped(text));
  return row + "</tr>\n";
}

std::string quantities_table(const PhaseRows& rows, bool several) {
  if (rows.quantities.empty()) return "";
  const auto cells = [&](const QuantityRow& q) {
    std::vector<std::string> texts = {q.quantity, q.band};
    if (several) texts.push_back(q.control);
    for (const std::string& text : {q.truth, q.sensed, q.over, q.under}) texts.push_back(text);
    return texts;
  };
  std::string table = several ? "<table class=\"kept several\">\n" : "<table class=\"kept\">\n";
  table +=
      "<thead>" +
      row_of("th", cells({"in band", "the band", "control", "true", "sensed", "over", "under"})) +
      "</thead><tbody>\n";
  for (const QuantityRow& q : rows.quantities) table += row_of("td", cells(q));
  return table + "</tbody></table>\n";
}

std::string facts_list(const PhaseRows& rows) {
  std::string list = "<dl>\n";
  for (const FactRow& fact : rows.facts) {
    if (!fact.head.empty()) list += "<dt>" + escaped(fact.head) + "</dt>";
    const std::string who = fact.control.empty() ? "" : "<i>" + escaped(fact.control) + "</i> ";
    list += "<dd>" + who + escaped(fact.text) + "</dd>\n";
  }
  return list + "</dl>\n";
}

std::string tub_section(const Rehearsed& r, std::size_t air, std::size_t tub) {
  const auto& tally = r.played.airs[air].tubs[tub];
  std::string part = fmt::format("<h2>{}</h2>\n", escaped(tub_title(r, air, tub)));
  if (!tally.leads) {
    part += fmt::format("<p>Judged by its own phase; the air is kept for {}.</p>\n",
                        escaped(r.played.airs[air].tubs.front().tub));
  }
  for (std::size_t p = 0; p < tally.phases.size(); ++p) {
    const PhaseRows rows = phase_rows(r, air, tub, p);
    part += fmt::format("<article><h3>{}</h3>\n{}{}</article>\n", escaped(rows.title),
                        quantities_table(rows, r.beside.has_value()), facts_list(rows));
  }
  return part;
}

std::string alerts_section(const Rehearsed& r, std::size_t air) {
  const rehearsal::Trace& trace = r.played.traces.at(air);
  if (trace.alerts().empty()) return "";
  std::string part = "<h3>Alerts</h3>\n<ol class=\"alerts\">\n";
  for (std::size_t i = 0; i < std::min(kAlertsShown, trace.alerts().size()); ++i) {
    const rehearsal::TracedAlert& alert = trace.alerts()[i];
    const std::string lasted =
        alert.returned ? spoken(std::chrono::round<minutes>(*alert.returned - alert.at)) : "";
    part += fmt::format("<li><b>{}</b> {}{}</li>\n", escaped(day_and_time(alert.at)),
                        escaped(alert.text),
                        lasted.empty() ? " <i>It stood to the end.</i>"
                                       : fmt::format(" <i>It stood for {}.</i>", lasted));
  }
  part += "</ol>\n";
  const std::size_t all = trace.alerts().size() + trace.alerts_untold();
  if (all > kAlertsShown) {
    part += fmt::format("<p>The first {} of {}.</p>\n", kAlertsShown, all);
  }
  return part;
}

std::string air_section(const Rehearsed& r, std::size_t air) {
  const auto& played = r.played.airs[air];
  std::string part = fmt::format(
      "<section>\n<figure data-air=\"{}\"><figcaption>{}</figcaption>"
      "<div class=\"paper\"></div><p class=\"readout\">&nbsp;</p>"
      "</figure>\n",
      air, escaped("The air of " + played.chamber.id));
  for (std::size_t tub = 0; tub < played.tubs.size(); ++tub) part += tub_section(r, air, tub);
  return part + alerts_section(r, air) + "</section>\n";
}

std::string list_of(const char* head, const char* kind, const std::vector<std::string>& texts) {
  if (texts.empty()) return "";
  std::string list = fmt::format("<section>\n<h2>{}</h2>\n<{}>\n", head, kind);
  for (const std::string& text : texts) list += "<li>" + escaped(text) + "</li>\n";
  return list + fmt::format("</{}>\n</section>\n", kind);
}

/// The template's place, written once, with what belongs there.
void fill(std::string& page, std::string_view place, const std::string& with) {
  const std::size_t at = page.find(place);
  if (at != std::string::npos) page.replace(at, place.size(), with);
}

}  // namespace

Result<std::string> chart_library(const std::filesystem::path& folder) {
  std::string all;
  for (const char* module : kChartModules) {
    const auto path = folder / module / "dist" / (std::string(module) + ".min.js");
    std::vector<Finding> findings;
    const auto text = read_file_text(path, path.string(), kModuleBytesMax, findings);
    if (!text) {
      return Error{ErrorCode::unavailable,
                   fmt::format("{}; a report's charts need Debian's packages node-d3-axis, "
                               "node-d3-scale, node-d3-selection and node-d3-shape, or their "
                               "folder named with --charts",
                               findings.front().told())};
    }
    all += *text + "\n";
  }
  return all;
}

std::string report_page(const Rehearsed& r, const std::string& library) {
  std::vector<std::string> faults;
  for (const FaultLine& fault : r.faults) faults.push_back(fault_words(fault));
  std::string body;
  for (std::size_t air = 0; air < r.played.airs.size(); ++air) body += air_section(r, air);
  body += list_of("Faults", "ol", faults) + list_of("Assumed", "ul", r.assumed);

  std::string page = kReportHtml;
  const std::string title = fmt::format("{}: {} rehearsed", r.site, spoken(r.length));
  fill(page, "{{title}}", escaped(title));
  fill(page, "{{style}}", kReportCss);
  fill(page, "{{heading}}", escaped(title));
  fill(page, "{{seed}}", std::to_string(r.seed));
  fill(page, "{{beside}}",
       r.beside
           ? fmt::format(
                 "<span class=\"pair\"><span class=\"key beside\"></span> true, under {}</span> ",
                 name_of(*r.beside->control))
           : "");
  fill(page, "{{body}}", body);
  fill(page, "{{licence}}", kChartLicence);
  fill(page, "{{data}}", report_data(r));
  fill(page, "{{library}}", library);
  fill(page, "{{drawing}}", kReportJs);
  return page;
}

Outcome write_report(const std::filesystem::path& file, const std::string& page) {
  const std::filesystem::path part = file.string() + ".part";
  std::ofstream stream(part, std::ios::binary);
  stream << page;
  stream.close();
  std::error_code code;
  if (stream) std::filesystem::rename(part, file, code);
  if (stream && !code) return Done{};
  std::filesystem::remove(part, code);
  return Error{
      ErrorCode::unavailable,
      fmt::format("{} cannot be written; name a file in a folder of yours", file.string())};
}

}  // namespace tubwarden::cli
