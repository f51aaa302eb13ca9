#include "programs/cli/check.hpp"

#include <nlohmann/json.hpp>

#include "settings/fit.hpp"
#include "settings/settings.hpp"
#include "shell/hosts/describe.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

std::string as_json(const Loaded& loaded) {
  Json findings = Json::array();
  for (const Finding& f : loaded.findings) {
    findings.push_back({{"severity", f.severity == Severity::error ? "error" : "warning"},
                        {"file", f.file},
                        {"line", f.line},
                        {"column", f.column},
                        {"text", f.text}});
  }
  Json fit = Json::array();
  for (const FitLine& line : fit_of(loaded.grow)) {
    fit.push_back({{"tub", line.tub},
                   {"mark", word_of(line.mark)},
                   {"about", name_of(line.about)},
                   {"phases", line.phases},
                   {"text", line.text}});
  }
  Json tubs = Json::array(), chambers = Json::array();
  for (const TubPlan& tub : loaded.grow.tubs) tubs.push_back(tub.id);
  for (const ChamberPlan& chamber : loaded.grow.chambers) chambers.push_back(chamber.id);
  const Json report = {{"whole", !loaded.has_errors()},
                       {"findings", findings},
                       {"fit", fit},
                       {"tubs", tubs},
                       {"chambers", chambers},
                       {"broken_tubs", loaded.broken_tubs},
                       {"broken_chambers", loaded.broken_chambers}};
  return report.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

/// The findings, then the fit of what is whole.
std::string as_page(const Loaded& loaded) {
  const std::string fit = fit_report(fit_of(loaded.grow));
  return check_report(loaded) + (fit.empty() ? "" : "\n" + fit);
}

}  // namespace

Checked check_folder(const CheckFolder& wanted, bool json) {
  Checked checked;
  const PluginCatalogue plugins = describe_all(wanted.plugins, wanted.host, &checked.problems);
  const Loaded loaded = load_folder(wanted.folder, plugins);
  checked.whole = !loaded.has_errors();
  checked.report = json ? as_json(loaded) : as_page(loaded);
  return checked;
}

}  // namespace tubwarden::cli
