// A folder to spoil: a whole configuration in /tmp whose files a test replaces, and the option rows
// of the plugins as their `--describe` prints them. Threading: one test. Failure: throws.
#pragma once

#include <string>
#include <vector>

#include "parts/parts.hpp"
#include "settings/settings.hpp"

namespace bench {

/// The rows of mqtt_relay, simulated, and the channel program, and of a board's driver.
tubwarden::PluginCatalogue catalogue();

/// tubwarden.yaml, profiles/button.yaml, chambers/closet.yaml (leader tub-2), tubs/tub-1.yaml with
/// air of its own, tubs/tub-2.yaml in the closet. No finding.
class Folder {
 public:
  Folder();
  /// Replaces the one place where `what` stands in the file; throws unless there is exactly one.
  void spoil(const std::string& file, const std::string& what, const std::string& with);
  void write(const std::string& file, const std::string& text);
  std::string text(const std::string& file) const;
  const std::filesystem::path& path() const { return folder_.path(); }
  tubwarden::Loaded load() const;

 private:
  parts::TempFolder folder_;
};

/// All findings, a line each, as they are told.
std::vector<std::string> told(const tubwarden::Loaded& loaded);

}  // namespace bench
