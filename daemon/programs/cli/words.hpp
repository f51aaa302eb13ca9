// The command line's words: which command, with what. The only place that knows the parser.
// Threading: pure functions. Failure: wrong words come back as Told with exit status 2, never as an
// exception.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "programs/cli/show.hpp"

namespace tubwarden::cli {

/// A question for the daemon, and how its answer is read.
struct Ask {
  std::string what;
  std::string args_json = "{}";
  Shown (*show)(const std::string& json, const Look& look) = nullptr;
  bool watch = false;
};

/// `check`: a folder, read here without a daemon.
struct CheckFolder {
  std::string folder;
  std::string plugins;
  std::string host;  ///< the program that describes a plugin
};

/// Nothing to do but to tell: help (0), or what is wrong with the words (2).
struct Told {
  int status = 0;
  std::string text;
};

struct Command {
  std::variant<Told, Ask, CheckFolder> wanted;
  bool json = false;
  std::string socket;
};

struct Defaults {
  std::string socket;
  std::string plugins;
  std::string host;
};

/// `words` without the program's name.
Command understand(const std::vector<std::string>& words, const Defaults& defaults);

}  // namespace tubwarden::cli
