// `tubwarden init`: a checked configuration folder for one tub, or one more tub for a folder.
// Threading: blocks the caller; asks through `Ask`. Failure: an Error, and nothing is written; no
// file that is there is ever changed.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"
#include "settings/fit.hpp"
#include "settings/settings.hpp"

namespace tubwarden::cli {

/// A person at a terminal. `ask` gives back the line typed, or nothing at the end of the input.
struct Asked {
  std::function<void(const std::string& text)> tell;
  std::function<std::optional<std::string>(const std::string& prompt)> ask;
};

struct InitDone {
  std::string folder;  ///< full path
  std::vector<std::string> written, kept;
  std::vector<std::string> problems;  ///< plugins that could not be described
  std::vector<Finding> findings;      ///< warnings of what was written
  std::vector<FitLine> fit;
  std::string tub, phase;
  std::string socket;  ///< what `tubwarden` must be told; empty: it finds it by itself
};

/// `usual_socket` is where `tubwarden` looks by itself, `given_socket` what --socket says.
Result<InitDone> init_folder(const InitFolder& wanted, const std::string& given_socket,
                             const std::string& usual_socket, const Asked* person,
                             const Look& look);

/// What was written, what to know of it, and the next three commands.
std::string init_page(const InitDone& done, const Look& look);
std::string init_json(const InitDone& done);

}  // namespace tubwarden::cli
