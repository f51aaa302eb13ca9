// `tubwarden check`: a configuration folder read as the daemon would read it, without one.
// Threading: runs the plugins' hosts one after another, blocks. Failure: findings, told in the
// report.
#pragma once

#include <string>
#include <vector>

#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct Checked {
  bool whole = false;  ///< no error; warnings may be there
  std::string report;
  std::vector<std::string> problems;  ///< plugins that could not be described
};

Checked check_folder(const CheckFolder& wanted, bool json);

}  // namespace tubwarden::cli
