// The cases a plugin is tried by, each in a process of its own.
// Threading: a case runs on its process's main thread. Failure: it ends its process with a verdict;
// a case that returns has passed, with its return value as a word on it.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "host/stage.hpp"

namespace tubwarden::host {

struct TrialCase {
  const char* name;
  const char* promise;  ///< what docs/plugins.md asks for, in a few words
  std::uint32_t kind;   ///< the kinds it is for
  std::string (*run)(Stage& stage);
  /// Runs before, in a process that has ended when `run` begins; may be null.
  void (*before)(Stage& stage);
};

const std::vector<TrialCase>& trial_cases();

}  // namespace tubwarden::host
