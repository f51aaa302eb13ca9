// A file's whole text, with its limits. Threading: reads files. Failure: a finding.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "settings/settings.hpp"

namespace tubwarden {

/// `name` is the file's for findings; nothing after a finding.
std::optional<std::string> read_file_text(const std::filesystem::path& path,
                                          const std::string& name, std::size_t bytes_max,
                                          std::vector<Finding>& findings);

}  // namespace tubwarden
