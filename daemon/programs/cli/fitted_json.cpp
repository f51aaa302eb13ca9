#include <cmath>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "programs/cli/fit.hpp"

namespace tubwarden::cli {
namespace {

using FittedJson = nlohmann::ordered_json;

/// Four digits: a figure is never surer than that.
double four_digits(double value) {
  if (value == 0.0 || !std::isfinite(value)) return value;
  const double scale = std::pow(10.0, 3.0 - std::floor(std::log10(std::fabs(value))));
  return std::round(value * scale) / scale;
}

FittedJson figure_json(const rehearsal::FittedFigure& f) {
  FittedJson row = {{"figure", key_of(f.of)},
                    {"unit", unit_of(f.of)},
                    {"told", f.told},
                    {"value", nullptr},
                    {"low", nullptr},
                    {"high", nullptr},
                    {"before", four_digits(f.usual)}};
  if (!f.told) return row;
  row["value"] = four_digits(f.value);
  row["low"] = four_digits(f.low);
  row["high"] = four_digits(f.high);
  return row;
}

FittedJson text_or_null(const std::string& text) {
  return text.empty() ? FittedJson() : FittedJson(text);
}

FittedJson fitted_air_json(const FittedAir& air) {
  FittedJson row = {{"chamber", air.chamber.id},
                    {"phase", air.phase},
                    {"from", rfc3339(air.from)},
                    {"to", rfc3339(air.to)},
                    {"counted_s", std::round(air.fit.counted_s)},
                    {"figures", FittedJson::array()},
                    {"left_over", FittedJson::array()},
                    {"suggested", FittedJson::array()}};
  for (const auto& figure : air.fit.figures) row["figures"].push_back(figure_json(figure));
  for (const Quantity q : kAllQuantities) {
    const auto& misfit = air.fit.misfit[index_of(q)];
    if (misfit.readings == 0) continue;
    row["left_over"].push_back({{"quantity", name_of(q)},
                                {"unit", unit_of(q)},
                                {"rms", four_digits(misfit.rms)},
                                {"readings", misfit.readings},
                                {"ranges_wider_by", four_digits(std::sqrt(misfit.alike))}});
  }
  for (const auto& advice : air.advice) {
    row["suggested"].push_back({{"actuator", text_or_null(advice.actuator)},
                                {"key", advice.key},
                                {"now", text_or_null(advice.now)},
                                {"suggested", text_or_null(advice.suggested)},
                                {"why", advice.why}});
  }
  return row;
}

}  // namespace

std::string fitted_json(const FittedFolder& fitted) {
  FittedJson json = {
      {"site", fitted.site}, {"airs", FittedJson::array()}, {"not_fitted", fitted.not_fitted}};
  for (const FittedAir& air : fitted.airs) json["airs"].push_back(fitted_air_json(air));
  return json.dump(2) + "\n";
}

}  // namespace tubwarden::cli
