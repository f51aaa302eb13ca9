#include "programs/cli/broker_in.hpp"

namespace tubwarden::cli {

Result<BrokerSettings> broker_in(const std::string& folder) {
  const Loaded loaded = load_folder(folder, {});
  if (loaded.site) return loaded.site->broker;
  std::string all = "no broker can be read in " + folder + ":";
  for (const Finding& f : loaded.findings) {
    const bool site = f.file == "tubwarden.yaml" || f.file == folder;
    if (site && f.severity == Severity::error) all += "\n  " + f.told();
  }
  return Error{ErrorCode::bad_input, all + "\nMend it, or name the broker with --broker"};
}

}  // namespace tubwarden::cli
