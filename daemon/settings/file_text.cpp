#include "settings/file_text.hpp"

#include <fmt/format.h>

#include <fstream>
#include <sstream>

namespace tubwarden {

std::optional<std::string> read_file_text(const std::filesystem::path& path,
                                          const std::string& name, std::size_t bytes_max,
                                          std::vector<Finding>& findings) {
  namespace fs = std::filesystem;
  std::error_code code;
  // A pipe or a device would be read for ever.
  if (const auto kind = fs::status(path, code); fs::exists(kind) && !fs::is_regular_file(kind)) {
    findings.push_back({Severity::error, name, 0, 0, "is no plain file; put one in its place"});
    return std::nullopt;
  }
  const auto size = fs::file_size(path, code);
  std::ifstream stream(path, std::ios::binary);
  if (code || !stream) {
    findings.push_back({Severity::error, name, 0, 0,
                        fs::exists(path, code)
                            ? "the file cannot be read; allow the daemon to read it"
                            : "there is no such file"});
    return std::nullopt;
  }
  if (size > bytes_max) {
    findings.push_back({Severity::error, name, 0, 0,
                        fmt::format("the file is larger than {} MiB", bytes_max / (1024 * 1024))});
    return std::nullopt;
  }
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

}  // namespace tubwarden
