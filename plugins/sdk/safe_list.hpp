// The list of a board's outputs, kept on a file while the daemon runs, so that a stop-post step can
// make them safe when daemon and hosts have died together. A line an output, an encoded SafeRun;
// the last line is "end N". Threading: pure functions. Failure: a line that is not understood is a
// problem beside what was understood; nothing throws.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sdk/protocol.hpp"

namespace tubwarden::protocol {

/// More is neither written nor read.
inline constexpr std::size_t kSafeListBytesMax = 1 << 20;

/// Each of `runs` with its plugin and outputs. The outputs' numbers are of no account.
std::string encode_safe_list(const std::vector<SafeRun>& runs);

struct SafeList {
  /// One a plugin, in the order of the plugins' first lines; outputs in the order of their lines,
  /// of two for the same output (id and wiring) the later.
  std::vector<SafeRun> runs;
  /// "line 3: why"; one for a list that does not end as it should.
  std::vector<std::string> problems;
};
SafeList decode_safe_list(std::string_view text);

}  // namespace tubwarden::protocol
