#include "settings/stamped_profile.hpp"

#include <vector>

#include "settings/readers.hpp"
#include "settings/section.hpp"
#include "settings/yaml_tree.hpp"

namespace tubwarden {

std::optional<Profile> profile_of_text(const std::string& text) {
  std::vector<Finding> told;
  const YamlFile file = read_yaml(text, "profile", told);
  if (!file.whole) return std::nullopt;
  FileFindings findings("profile", told);
  Profile profile = read_profile(file.root, findings);
  if (findings.errors() > 0) return std::nullopt;
  return profile;
}

}  // namespace tubwarden
