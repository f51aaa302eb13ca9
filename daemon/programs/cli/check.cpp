#include "programs/cli/check.hpp"

#include <nlohmann/json.hpp>

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
  Json tubs = Json::array(), chambers = Json::array();
  for (const TubPlan& tub : loaded.grow.tubs) tubs.push_back(tub.id);
  for (const ChamberPlan& chamber : loaded.grow.chambers) chambers.push_back(chamber.id);
  const Json report = {{"whole", !loaded.has_errors()},
                       {"findings", findings},
                       {"tubs", tubs},
                       {"chambers", chambers},
                       {"broken_tubs", loaded.broken_tubs},
                       {"broken_chambers", loaded.broken_chambers}};
  return report.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

Checked check_folder(const CheckFolder& wanted, bool json) {
  Checked checked;
  const PluginCatalogue plugins = describe_all(wanted.plugins, wanted.host, &checked.problems);
  const Loaded loaded = load_folder(wanted.folder, plugins);
  checked.whole = !loaded.has_errors();
  checked.report = json ? as_json(loaded) : check_report(loaded);
  return checked;
}

}  // namespace tubwarden::cli
