// `tubwarden drill`: runs an output, cuts its host, the daemon or the broker off on purpose, and
// watches whether it falls safe; the outcome goes into the record.
// Threading: blocks the caller; it speaks with a person through `Person`. Failure: what could not
// be proven is said and stays open, never taken for proven; Ctrl-C leaves the run to end by its
// host.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

/// Who does the drill, or nobody.
struct Person {
  std::function<void(const std::string&)> tell;
  /// Waits for Enter; false when nobody is there any more.
  std::function<bool(const std::string&)> go_on;
  /// A question for yes or no; nothing when nobody answers.
  std::function<std::optional<bool>(const std::string&)> is_it;
};

enum class Fall {
  fell,  ///< it fell safe by itself
  open,  ///< nothing could tell, or the run was over before
  held,  ///< it went on running: look at it now
};

struct CutSeen {
  std::string actuator;
  Cut cut = Cut::host;
  Fall fall = Fall::open;
  std::optional<double> after_s;
  std::string text;  ///< without the actuator: "the host was cut off and it rested 0.3s later"
};

std::string_view word_of(Cut cut);

/// All cuts in turn; what they showed is in the record when this returns.
Result<std::vector<CutSeen>> drill(const Drill& wanted, const std::string& socket,
                                   const Person& person);
std::string drill_json(const std::vector<CutSeen>& seen);

}  // namespace tubwarden::cli
