#include "programs/cli/batch_charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "programs/cli/markup.hpp"
#include "programs/cli/page.hpp"

namespace tubwarden::cli {
namespace {

/// In the units of the viewBox, which are points of a screen.
constexpr double kChartWidth = 760.0, kChartLeft = 64.0, kChartRight = 12.0;
constexpr double kPhaseRow = 18.0, kStripHeight = 96.0, kStripHead = 18.0, kAxisHeight = 22.0;
constexpr double kHarvestHeight = 190.0;
/// Wide enough for a date beside the next.
constexpr double kTickLeast = 58.0;

struct TimeScale {
  WallTime from{}, to{};
  double at(WallTime t) const {
    const double share = seconds_of(t - from) / std::max(1.0, seconds_of(to - from));
    return kChartLeft + std::clamp(share, 0.0, 1.0) * (kChartWidth - kChartLeft - kChartRight);
  }
};

struct ValueScale {
  double low = 0.0, high = 1.0, top = 0.0, bottom = 1.0;
  double at(double value) const {
    return bottom - std::clamp((value - low) / (high - low), 0.0, 1.0) * (bottom - top);
  }
};

/// 1, 2 or 5 times a power of ten, so that there are about `wanted` of them.
double whole_step(double width, double wanted) {
  const double raw = std::max(width / wanted, 1e-9);
  const double power = std::pow(10.0, std::floor(std::log10(raw)));
  for (const double step : {1.0, 2.0, 5.0}) {
    if (step * power >= raw) return step * power;
  }
  return 10.0 * power;
}

std::string day_word(WallTime at, Zone zone) {
  static constexpr const char* kMonths[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                            "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const std::string text = rfc3339(at + duration_cast<milliseconds>(zone(at)));
  const int month = std::stoi(text.substr(5, 2)), day = std::stoi(text.substr(8, 2));
  return fmt::format("{} {}", day, kMonths[month - 1]);
}

std::string svg_text(double x, double y, const std::string& words, const char* anchor,
                     const char* kind) {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\"{}>{}</text>\n", x, y,
                     anchor, *kind ? fmt::format(" class=\"{}\"", kind) : "", escaped(words));
}

std::string svg_head(double height, const std::string& label) {
  return fmt::format("<svg viewBox=\"0 0 {:.0f} {:.0f}\" role=\"img\" aria-label=\"{}\">\n",
                     kChartWidth, height, escaped(label));
}

/// A line a day, or each so many days, with its date below.
std::string day_axis(const TimeScale& x, double top, double bottom, Zone zone) {
  const double days_all = seconds_of(x.to - x.from) / 86400.0;
  const double room = (kChartWidth - kChartLeft - kChartRight) / kTickLeast;
  const auto step = static_cast<int>(std::max(1.0, std::ceil(whole_step(days_all, room))));
  std::string svg;
  WallTime at = floor_to(x.from, days(1), zone);
  for (; at <= x.to; at += duration_cast<milliseconds>(days(step))) {
    if (at < x.from) continue;
    svg += fmt::format("<path class=\"turn grid\" d=\"M{:.1f} {:.1f}V{:.1f}\"/>\n", x.at(at), top,
                       bottom);
    svg += svg_text(x.at(at), bottom + 14, day_word(at, zone), "middle", "faint");
  }
  return svg;
}

std::string phase_rows_svg(const BatchReport& report, const TimeScale& x, double& y) {
  std::string svg, tub;
  for (const ReportPhase& phase : report.phases) {
    if (phase.tub != tub) {
      if (!tub.empty()) y += kPhaseRow;
      tub = phase.tub;
      svg += svg_text(kChartLeft - 6, y + 13, tub, "end", "name");
    }
    const double from = x.at(phase.from), to = x.at(phase.to.value_or(x.to));
    const std::string word =
        phase.flush > 0 ? fmt::format("{} {}", phase.phase, phase.flush) : phase.phase;
    svg += fmt::format(
        "<rect class=\"phase\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{}\">"
        "<title>{}</title></rect>\n",
        from, y + 1, std::max(0.5, to - from), kPhaseRow - 3, escaped(word));
    const auto room = static_cast<std::size_t>(std::max(0.0, (to - from - 6) / 6.2));
    if (room > 2) svg += svg_text(from + 4, y + 13, cut(word, room), "start", "");
  }
  if (!tub.empty()) y += kPhaseRow;
  return svg;
}

/// The bands of the phases of the first tub that has them.
struct BandPiece {
  WallTime from{}, to{};
  double low = 0.0, high = 0.0;
};
std::vector<BandPiece> bands_of(const BatchReport& report, Quantity q, WallTime end) {
  std::vector<BandPiece> bands;
  std::string tub;
  for (const ReportPhase& phase : report.phases) {
    for (const ReportQuantity& kept : phase.quantities) {
      if (kept.quantity != q || (!kept.band_low && !kept.band_high)) continue;
      if (!tub.empty() && tub != phase.tub) continue;
      tub = phase.tub;
      bands.push_back({phase.from, phase.to.value_or(end), kept.band_low.value_or(-1e9),
                       kept.band_high.value_or(1e9)});
    }
  }
  return bands;
}

ValueScale strip_scale(const ReportStrip& strip, const std::vector<BandPiece>& bands, double top) {
  ValueScale y{INFINITY, -INFINITY, top, top + kStripHeight};
  for (const HistoryValue& v : strip.values) {
    y.low = std::min(y.low, v.low);
    y.high = std::max(y.high, v.high);
  }
  for (const BandPiece& band : bands) {
    if (band.low > -1e8) y.low = std::min(y.low, band.low);
    if (band.high < 1e8) y.high = std::max(y.high, band.high);
  }
  const double step = whole_step(std::max(y.high - y.low, 0.1), 3.0);
  y.low = std::floor(y.low / step) * step;
  y.high = std::max(y.low + step, std::ceil(y.high / step) * step);
  return y;
}

/// Least to greatest as an area, the mean as a line; a pause of three widths is left open.
std::string values_svg(const ReportStrip& strip, const TimeScale& x, const ValueScale& y) {
  std::string mean;
  std::string areas;
  std::vector<const HistoryValue*> piece;
  const auto close = [&] {
    if (piece.empty()) return;
    std::string upper, lower;
    for (std::size_t i = 0; i < piece.size(); ++i) {
      upper += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", x.at(piece[i]->at),
                           y.at(piece[i]->high));
      mean += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", x.at(piece[i]->at),
                          y.at(piece[i]->mean));
    }
    for (auto v = piece.rbegin(); v != piece.rend(); ++v) {
      lower += fmt::format("L{:.1f} {:.1f}", x.at((*v)->at), y.at((*v)->low));
    }
    areas += upper + lower + "z";
    piece.clear();
  };
  Duration usual = hours(1);
  if (strip.values.size() > 1) usual = strip.values[1].at - strip.values[0].at;
  for (const HistoryValue& v : strip.values) {
    if (!piece.empty() && v.at - piece.back()->at > 3 * usual) close();
    piece.push_back(&v);
  }
  close();
  return fmt::format("<path class=\"extent\" d=\"{}\"/>\n<path class=\"mean\" d=\"{}\"/>\n", areas,
                     mean);
}

std::string strip_svg(const BatchReport& report, const ReportStrip& strip, const TimeScale& x,
                      double top) {
  const auto bands = bands_of(report, strip.quantity, x.to);
  const ValueScale y = strip_scale(strip, bands, top);
  std::string svg;
  for (const BandPiece& band : bands) {
    svg += fmt::format(
        "<rect class=\"band\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\"/>\n",
        x.at(band.from), y.at(band.high), std::max(0.0, x.at(band.to) - x.at(band.from)),
        std::max(0.0, y.at(band.low) - y.at(band.high)));
  }
  svg += values_svg(strip, x, y);
  svg += fmt::format("<rect class=\"frame\" x=\"{}\" y=\"{:.1f}\" width=\"{}\" height=\"{}\"/>\n",
                     kChartLeft, top, kChartWidth - kChartLeft - kChartRight, kStripHeight);
  const double step = whole_step(y.high - y.low, 3.0);
  for (double value = y.low; value <= y.high + step / 4; value += step) {
    svg += svg_text(kChartLeft - 6, y.at(value) + 4, trimmed(value), "end", "faint");
  }
  return svg + svg_text(kChartLeft, top - 5,
                        fmt::format("{}, {} ({})", word_of(strip.quantity), unit_of(strip.quantity),
                                    strip.chamber),
                        "start", "name");
}

}  // namespace

std::string climate_chart(const BatchReport& report, Zone zone) {
  if (report.phases.empty() && report.strips.empty()) return "";
  const TimeScale x{report.begins(), std::max(report.ends(), report.begins() + hours(1))};
  std::size_t tubs = 0;
  std::string tub;
  for (const ReportPhase& phase : report.phases) {
    if (phase.tub != tub) ++tubs;
    tub = phase.tub;
  }
  const double bottom = 4 + static_cast<double>(tubs) * kPhaseRow +
                        static_cast<double>(report.strips.size()) * (kStripHead + kStripHeight);
  std::string svg =
      svg_head(bottom + kAxisHeight, "phases and climate of " + report.batch + " by day");
  svg += day_axis(x, 4, bottom, zone);
  double y = 4;
  svg += phase_rows_svg(report, x, y);
  for (const ReportStrip& strip : report.strips) {
    y += kStripHead;
    svg += strip_svg(report, strip, x, y);
    y += kStripHeight;
  }
  return svg + "</svg>\n";
}

std::string harvest_chart(const BatchReport& report) {
  struct Bar {
    std::string tub;
    int flush;
    double grams;
  };
  std::vector<Bar> bars;
  for (const ReportBed& bed : report.beds) {
    for (const ReportFlush& flush : bed.flushes) {
      if (!flush.picks.empty()) bars.push_back({bed.tub, flush.number, flush.grams});
    }
  }
  if (bars.empty()) return "";
  std::stable_sort(bars.begin(), bars.end(),
                   [](const Bar& a, const Bar& b) { return a.flush < b.flush; });
  const double all = report.grams();
  const double step = whole_step(all, 4.0);
  const ValueScale y{0.0, std::ceil(all / step) * step, 14.0, kHarvestHeight - 40.0};
  std::string svg = svg_head(kHarvestHeight, "harvest of " + report.batch + " by flush");
  for (double grams = 0.0; grams <= y.high + step / 4; grams += step) {
    svg += fmt::format("<path class=\"turn grid\" d=\"M{} {:.1f}H{}\"/>\n", kChartLeft, y.at(grams),
                       kChartWidth - kChartRight);
    svg +=
        svg_text(kChartLeft - 6, y.at(grams) + 4, fmt::format("{:.0f} g", grams), "end", "faint");
  }
  const double room = (kChartWidth - kChartLeft - kChartRight) / static_cast<double>(bars.size());
  const double wide = std::min(64.0, room * 0.6);
  double sum = 0.0;
  std::string line, dots;
  for (std::size_t i = 0; i < bars.size(); ++i) {
    const double middle = kChartLeft + room * (static_cast<double>(i) + 0.5);
    svg += fmt::format(
        "<rect class=\"bar\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\"/>\n",
        middle - wide / 2, y.at(bars[i].grams), wide, y.bottom - y.at(bars[i].grams));
    sum += bars[i].grams;
    line += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", middle, y.at(sum));
    dots += fmt::format("<circle class=\"dot\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"3\"/>\n", middle,
                        y.at(sum));
    dots +=
        svg_text(middle, y.bottom + 14, fmt::format("{:.0f} g", bars[i].grams), "middle", "name");
    dots += svg_text(middle, y.bottom + 28, fmt::format("{}, flush {}", bars[i].tub, bars[i].flush),
                     "middle", "faint");
  }
  svg += fmt::format("<path class=\"running\" d=\"{}\"/>\n{}", line, dots);
  return svg + "</svg>\n";
}

}  // namespace tubwarden::cli
