// `tubwarden try`: runs one output once, waits until the daemon has seen what it did, and says so.
// Threading: blocks the caller until the daemon's watch is over. Failure: a trial that is refused,
// or a daemon that goes away meanwhile, is an Error.
#pragma once

#include <functional>
#include <string>

#include "base/result.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct TrialVerdict {
  bool good = false;  ///< it ran, and what can tell so told so
  std::string text;
  std::string json;
};

/// `told` is called with a line while the air is watched.
Result<TrialVerdict> try_output(const TryOutput& wanted, const std::string& socket,
                                const std::function<void(const std::string&)>& told);
std::string try_page(const TrialVerdict& verdict, const Look& look);

}  // namespace tubwarden::cli
