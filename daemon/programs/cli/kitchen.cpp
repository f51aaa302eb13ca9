#include "programs/cli/kitchen.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/kitchen/breath.hpp"
#include "core/kitchen/steam.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/log_file.hpp"

namespace tubwarden::cli {
namespace {

std::string figure_text(const Figure& f) {
  const std::string unit = f.unit.empty() || f.unit.starts_with(':') ? f.unit : " " + f.unit;
  return fmt::format("{:.{}f}{}", f.value, f.digits, unit);
}

/// Names on the left, figures flush by their points.
std::string figures(const std::vector<Figure>& list, std::size_t width, Ink ink, const Look& look) {
  std::string text;
  for (const Figure& f : list) {
    text += "  " + padded(f.name, width) + "  " + inked(figure_text(f), ink, look) + "\n";
  }
  return text;
}

Json figures_json(const std::vector<Figure>& list) {
  Json found = Json::array();
  for (const Figure& f : list) {
    const double scale = std::pow(10.0, f.digits + 2);
    found.push_back(
        {{"name", f.name}, {"value", std::round(f.value * scale) / scale}, {"unit", f.unit}});
  }
  return found;
}

}  // namespace

std::string sum_page(const Sum& sum, const Look& look) {
  std::size_t width = 0;
  for (const auto* list : {&sum.given, &sum.found}) {
    for (const Figure& f : *list) width = std::max(width, columns(f.name));
  }
  std::string page = inked(sum.title, Ink::strong, look) + "\n";
  page += figures(sum.given, width, Ink::faint, look) + "\n";
  page += figures(sum.found, width, Ink::strong, look) + "\n";
  for (const std::string& says : sum.says) page += beside("", says, Ink::plain, look);
  if (!sum.says.empty()) page += "\n";
  for (const std::string& caution : sum.cautions) {
    page += beside("Mind: ", caution, Ink::warn, look);
  }
  page += beside("Formula: ", sum.formula, Ink::faint, look);
  return page + beside("Source: ", sum.source, Ink::faint, look);
}

std::string sum_json(const Sum& sum) {
  const Json told = {{"title", sum.title},     {"given", figures_json(sum.given)},
                     {"formula", sum.formula}, {"found", figures_json(sum.found)},
                     {"says", sum.says},       {"cautions", sum.cautions},
                     {"source", sum.source}};
  return told.dump(2) + "\n";
}

Result<Sum> kitchen_log(const KitchenLog& wanted) {
  const auto text = text_of(wanted.file);
  if (!text.ok()) return text.error();
  const auto points = read_log(*text, wanted.file, wanted.column, wanted.sensor);
  if (!points.ok()) return points.error();
  const auto named = [&](Result<Sum> sum) -> Result<Sum> {
    if (sum.ok()) return sum;
    return Error{sum.error().code, wanted.file + ": " + sum.error().text};
  };
  if (wanted.what == KitchenLog::What::lethality) {
    std::vector<Probed> probe;
    for (const LogPoint& p : *points) probe.push_back({p.at, Celsius{p.value}});
    return named(lethality_sum(probe));
  }
  std::vector<Co2Sample> samples;
  for (const LogPoint& p : *points) samples.push_back({p.at, Ppm{p.value}});
  return named(air_changes_sum(samples, Ppm{wanted.background_ppm}, wanted.net_l));
}

}  // namespace tubwarden::cli
