// `--watch`: the same question each second, drawn over itself on a terminal, one below the other
// elsewhere. Threading: blocks the caller until a signal that ends it. Failure: the first question
// unanswered ends it; a later one is shown, and asked again.
#pragma once

#include <functional>
#include <string>

#include "base/result.hpp"
#include "programs/cli/page.hpp"

namespace tubwarden::cli {

struct Terminal {
  bool is_terminal = false;
  int width = 80;
  int height = 24;
};
/// The window standard output stands in, as it is now.
Terminal terminal_now();

/// Asks and draws until SIGINT, SIGTERM or SIGHUP. `draw` gets the width to draw for.
Outcome watch(const std::function<Result<std::string>(int width)>& draw);

}  // namespace tubwarden::cli
