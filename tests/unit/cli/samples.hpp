// The answers of a daemon, kept in files, and how tests look at a page.
// Threading: pure, but for reading files. Failure: throws where a sample is missing.
#pragma once

#include <sstream>
#include <string>
#include <vector>

#include "parts/parts.hpp"
#include "programs/cli/page.hpp"

namespace cli_test {

inline std::string sample(const std::string& name) {
  return parts::read_file(std::string(TUBWARDEN_SOURCE_DIR) + "/tests/unit/cli/samples/" + name);
}

inline std::vector<std::string> lines_of(const std::string& page) {
  std::vector<std::string> lines;
  std::istringstream in(page);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

/// The first line that contains `word`, or "" where none does.
inline std::string line_with(const std::string& page, const std::string& word) {
  for (const std::string& line : lines_of(page)) {
    if (line.find(word) != std::string::npos) return line;
  }
  return "";
}

inline tubwarden::cli::Look look_of(int width, bool colour = false, bool utf8 = true) {
  tubwarden::cli::Look look;
  look.width = width;
  look.colour = colour;
  look.utf8 = utf8;
  return look;
}

}  // namespace cli_test
