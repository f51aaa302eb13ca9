#include "programs/cli/batch_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "programs/cli/batch_charts.hpp"
#include "programs/cli/markup.hpp"
#include "programs/cli/report_parts.hpp"

namespace tubwarden::cli {
namespace {

/// Photos of a page in all; what is beyond stands by its path.
constexpr std::size_t kPhotosBytesMax = 48 * 1024 * 1024;

/// Cells as they are, already escaped; a figure stands right.
struct PageCell {
  std::string html;
  const char* kind = "";
};
PageCell cell_words(const std::string& text) { return {escaped(text), ""}; }
PageCell cell_figure(const std::string& text) { return {escaped(text), "figure"}; }

std::string cells_html(const char* tag, const std::vector<PageCell>& row) {
  std::string html = "<tr>";
  for (const PageCell& cell : row) {
    html += fmt::format("<{0}{1}>{2}</{0}>", tag,
                        *cell.kind ? fmt::format(" class=\"{}\"", cell.kind) : "", cell.html);
  }
  return html + "</tr>\n";
}

std::string table_html(const std::vector<PageCell>& head,
                       const std::vector<std::vector<PageCell>>& rows) {
  if (rows.empty()) return "";
  std::string html =
      "<table class=\"rows\">\n<thead>" + cells_html("th", head) + "</thead><tbody>\n";
  for (const auto& row : rows) html += cells_html("td", row);
  return html + "</tbody></table>\n";
}

class BatchSheet {
 public:
  BatchSheet(const BatchReport& report, const PhotoData& photo, const Look& look)
      : r_(report), photo_(photo), look_(look) {}

  std::string body() { return facts() + climate() + harvest() + jars() + forecasts() + timeline(); }

 private:
  std::string day(const std::optional<WallTime>& at) const {
    return at ? local_time(rfc3339(*at), look_, true).substr(0, 11) : "";
  }
  std::string moment(WallTime at) const {
    // Without its seconds.
    const std::string text = local_time(rfc3339(at), look_);
    return text.substr(0, text.size() - 3);
  }

  std::string facts() const {
    std::string html = "<ul class=\"facts\">\n";
    for (const BatchFigure& f : batch_figures(r_)) {
      if (!f.value) continue;
      html += fmt::format("<li><b>{}</b><span>{}</span></li>\n", escaped(figure_told(f)),
                          escaped(f.name));
    }
    return html + "</ul>\n";
  }

  std::string climate() const {
    const std::string chart = climate_chart(r_, look_.east_of_utc);
    if (chart.empty()) return "";
    std::string html = "<section>\n<h2>Climate against band</h2>\n<figure>\n" + chart +
                       "</figure>\n<p class=\"legend\"><span class=\"key band\"></span> the band "
                       "<span class=\"key mean\"></span> mean <span class=\"key extent\"></span> "
                       "least to greatest</p>\n";
    std::vector<std::vector<PageCell>> rows;
    for (const ReportPhase& phase : r_.phases) {
      const std::string name =
          phase.flush > 0 ? fmt::format("{}, flush {}", phase.phase, phase.flush) : phase.phase;
      const double lasted_d = seconds_of(phase.to.value_or(r_.made) - phase.from) / 86400.0;
      std::vector<PageCell> row = {cell_words(phase.tub), cell_words(name),
                                   cell_words(day(phase.from)),
                                   cell_figure(fmt::format("{:.1f} d", lasted_d))};
      if (phase.quantities.empty()) {
        row.insert(row.end(), {cell_words("no reading was usable"), {}, {}, {}});
        rows.push_back(row);
      }
      for (const ReportQuantity& kept : phase.quantities) {
        rows.push_back(with_quantity(row, kept));
        row = {{}, {}, {}, {}};  // told once
      }
    }
    return html +
           table_html({cell_words("tub"), cell_words("phase"), cell_words("from"),
                       cell_figure("lasted"), cell_words("kept"), cell_figure("mean"),
                       cell_figure("least to most"), cell_figure("in band")},
                      rows) +
           "</section>\n";
  }

  static std::vector<PageCell> with_quantity(std::vector<PageCell> row,
                                             const ReportQuantity& kept) {
    const std::string unit(unit_of(kept.quantity));
    const int digits = kept.quantity == Quantity::co2 ? 0 : 1;
    row.push_back(cell_words(std::string(word_of(kept.quantity))));
    row.push_back(cell_figure(
        fmt::format("{:.{}f} {}{}", kept.mean, digits, unit, kept.at_least ? " at least" : "")));
    row.push_back(
        cell_figure(fmt::format("{:.{}f} to {:.{}f}", kept.least, digits, kept.most, digits)));
    row.push_back(
        cell_figure(kept.inside_pct ? fmt::format("{:.1f} %", *kept.inside_pct) : "no band"));
    return row;
  }

  std::string harvest() const {
    const std::string chart = harvest_chart(r_);
    if (chart.empty()) return "";
    std::vector<std::vector<PageCell>> rows;
    for (const ReportBed& bed : r_.beds) {
      ReportBed until = bed;
      until.grams = 0.0;
      for (const ReportFlush& flush : bed.flushes) {
        if (flush.picks.empty()) continue;
        until.grams += flush.grams;
        const CropYield yield = yield_of_bed(until);
        const auto last = flush.picks.back().at;
        rows.push_back({cell_words(bed.tub), cell_figure(std::to_string(flush.number)),
                        cell_words(day(flush.pins)), cell_words(day(flush.picks.front().at)),
                        cell_words(day(last)), cell_figure(fmt::format("{:.0f} g", flush.grams)),
                        cell_figure(fmt::format("{:.0f} g", until.grams)),
                        cell_figure(told_pct(yield.biological_efficiency_pct)),
                        cell_figure(yield.kg_m2 ? fmt::format("{:.2f} kg/m2", *yield.kg_m2) : "")});
      }
    }
    return "<section>\n<h2>Harvest</h2>\n<figure>\n" + chart +
           "</figure>\n<p class=\"legend\">a bar a flush; <span class=\"key running\"></span> "
           "running yield</p>\n" +
           table_html({cell_words("tub"), cell_figure("flush"), cell_words("pins"),
                       cell_words("first pick"), cell_words("last pick"), cell_figure("picked"),
                       cell_figure("running"), cell_figure("biological efficiency"),
                       cell_figure("by area")},
                      rows) +
           "<p class=\"legend\">Biological efficiency: fresh weight picked on 100 of dry substrate "
           "at the start; 100 % is no bound.</p>\n</section>\n";
  }

  static std::string told_pct(const std::optional<double>& pct) {
    return pct ? fmt::format("{:.1f} %", *pct) : "";
  }

  std::string jars() const {
    if (r_.jars.empty()) return "";
    std::vector<std::vector<PageCell>> rows, cultures;
    for (const ReportJar& jar : r_.jars) {
      std::string looks;
      for (const ReportJar::Look& look : jar.looks) {
        looks += fmt::format("{}{:.0f}", looks.empty() ? "" : ", ", look.grown_pct);
      }
      std::string fate = jar.fate == "mixed" ? "mixed into " + jar.into_tub : jar.fate;
      if (jar.fate_at) fate += ", " + day(jar.fate_at);
      if (!jar.fate_text.empty()) fate += ": " + jar.fate_text;
      rows.push_back({cell_words(jar.id),
                      cell_words(jar.grain),
                      cell_words(jar.run),
                      cell_words(jar.culture),
                      cell_figure(jar.dose_ml > 0.0 ? trimmed(jar.dose_ml) + " mL" : ""),
                      cell_words(day(jar.inoculated)),
                      cell_figure(looks),
                      cell_figure(fmt::format("{:.0f} d", jar.days)),
                      {escaped(fate), jar.fate == "contaminated" ? "words miss" : "words"}});
    }
    for (const ReportCulture& c : r_.cultures) {
      cultures.push_back({cell_words(c.id), cell_words(c.strain), cell_words(c.source),
                          cell_figure(trimmed(c.millilitres) + " mL"),
                          cell_figure(trimmed(c.used_ml) + " mL"),
                          cell_figure(trimmed(c.left_ml) + " mL")});
    }
    return "<section>\n<h2>Jars and their fate</h2>\n" +
           table_html({cell_words("jar"), cell_words("grain"), cell_words("sterilised"),
                       cell_words("culture"), cell_figure("dose"), cell_words("inoculated"),
                       cell_figure("grown through, %"), cell_figure("stood"), cell_words("fate")},
                      rows) +
           table_html({cell_words("culture"), cell_words("strain"), cell_words("source"),
                       cell_figure("received"), cell_figure("used in all"), cell_figure("left")},
                      cultures) +
           "</section>\n";
  }

  std::string forecasts() const {
    std::vector<std::vector<PageCell>> rows;
    std::size_t held = 0;
    for (const ReportForecast& f : r_.forecasts) {
      held += f.within() ? 1 : 0;
      const double off_d = seconds_of(f.happened - f.likely) / 86400.0;
      rows.push_back({cell_words(f.of),
                      cell_words(f.what),
                      cell_words(moment(f.told)),
                      cell_words(moment(f.likely)),
                      cell_words(moment(f.early) + " to " + moment(f.late)),
                      cell_words(moment(f.happened)),
                      cell_figure(fmt::format("{:.1f} d {}", std::abs(off_d),
                                              off_d < 0.0 ? "earlier" : "later")),
                      {f.within() ? "held" : "missed", f.within() ? "" : "miss"}});
    }
    if (rows.empty()) return "";
    return "<section>\n<h2>Forecast against what happened</h2>\n" +
           table_html({cell_words("of"), cell_words("what"), cell_words("told"),
                       cell_words("likely"), cell_words("80 in 100"), cell_words("happened"),
                       cell_figure("by"), cell_words("interval")},
                      rows) +
           fmt::format(
               "<p class=\"legend\">{} of {} fell inside the interval that is to hold 80 of "
               "100.</p>\n</section>\n",
               held, rows.size());
  }

  std::string photo_of(const std::string& path) {
    const auto data = photo_ && photos_bytes_ < kPhotosBytesMax ? photo_(path) : std::nullopt;
    if (!data) return fmt::format(" <i>photo: {}</i>", escaped(path));
    photos_bytes_ += data->size();
    return fmt::format("<img src=\"{}\" alt=\"{}\"/>", *data, escaped(path));
  }

  std::string timeline() {
    std::string html = "<section>\n<h2>Time line</h2>\n<ul class=\"timeline\">\n";
    for (const ReportAct& act : r_.acts) {
      html += fmt::format("<li><time>{}</time>{} <i>{}</i>{}{}</li>\n",
                          act.at_is_known ? moment(act.at) : "time not known", escaped(act.text),
                          escaped(act.who),
                          act.note.empty() ? "" : fmt::format(" “{}”", escaped(act.note)),
                          act.photo.empty() ? "" : photo_of(act.photo));
    }
    html += "</ul>\n";
    if (r_.cut) html += "<p>There is more than is shown; see: tubwarden export</p>\n";
    return html + "</section>\n";
  }

  const BatchReport& r_;
  const PhotoData& photo_;
  const Look& look_;
  std::size_t photos_bytes_ = 0;
};

std::string whole_page(const std::string& title, const std::string& beneath,
                       const std::string& body) {
  return fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
      "<meta name=\"color-scheme\" content=\"light dark\"/>\n<title>{0}</title>\n<style>\n{1}{2}"
      "</style>\n</head>\n<body>\n<header>\n<h1>{0}</h1>\n<p class=\"legend\">{3}</p>\n</header>\n"
      "<main>\n{4}</main>\n</body>\n</html>\n",
      escaped(title), kReportCss, kBatchCss, escaped(beneath), body);
}

}  // namespace

std::string batch_page(const BatchReport& report, const PhotoData& photo, const Look& look) {
  return whole_page(fmt::format("Batch {}", report.batch),
                    fmt::format("{}, profile {}; made {}", report.site, report.profile,
                                local_time(rfc3339(report.made), look, true)),
                    BatchSheet(report, photo, look).body());
}

std::string batches_page(const std::vector<BatchReport>& reports, const Look& look) {
  std::vector<PageCell> head = {cell_words("")};
  std::vector<std::vector<PageCell>> rows;
  std::vector<std::vector<BatchFigure>> figures;
  std::string names;
  for (const BatchReport& report : reports) {
    head.push_back(cell_figure(report.batch));
    figures.push_back(batch_figures(report));
    names += (names.empty() ? "" : ", ") + report.batch;
  }
  for (std::size_t i = 0; !figures.empty() && i < figures[0].size(); ++i) {
    std::vector<PageCell> row = {cell_words(figures[0][i].name)};
    for (const auto& of : figures) row.push_back(cell_figure(figure_told(of[i])));
    rows.push_back(std::move(row));
  }
  std::string body = "<section>\n" + table_html(head, rows) + "</section>\n";
  for (const BatchReport& report : reports) {
    const std::string chart = harvest_chart(report);
    if (chart.empty()) continue;
    body += fmt::format("<section>\n<h2>Harvest of {}</h2>\n<figure>\n{}</figure>\n</section>\n",
                        escaped(report.batch), chart);
  }
  const WallTime made = reports.empty() ? WallTime{} : reports.front().made;
  return whole_page("Batches " + names, "made " + local_time(rfc3339(made), look, true), body);
}

}  // namespace tubwarden::cli
