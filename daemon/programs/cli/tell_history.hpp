// `tubwarden history` from the question to the last line: page, CSV or JSON.
// Threading: blocks the caller. Failure: exit status 1 and one sentence; a CSV that broke off in
// the middle says so the same way.
#pragma once

#include <functional>
#include <string>

#include "programs/cli/history.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct HistoryWays {
  AskDaemon ask;
  std::function<int(const std::string&)> print;  ///< to standard output; its exit status
  std::function<int(const Error&)> failed;       ///< tells an error; the exit status
  std::function<void(const std::string&)> note;  ///< a sentence beside the output
};

int tell_history(const HistoryWays& ways, const HistoryWish& wish, bool json, const Look& look);

}  // namespace tubwarden::cli
