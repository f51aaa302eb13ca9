// What a drill works on: an output as the daemon tells it, and a process that is to end.
// Threading: plain values. Failure: members that are missing are left at their defaults.
#pragma once

#include <string>

#include "base/time.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {

/// How long a drilled output runs, where its longest run allows.
inline constexpr Duration kDrillRun = seconds(30);

struct DrillOutput {
  std::string id, health;
  int pid = 0;
  Duration lease{0}, run{0};
  bool safe_rests = true;
  std::string confirm, says_run, says_rest;  ///< topic and payloads; empty: nothing confirms
};

/// From the daemon's answer to "outputs".
DrillOutput drill_output(const Json& told);

/// A process by its pidfd: also one that nobody has reaped counts as ended.
class ProcessEnd {
 public:
  explicit ProcessEnd(int pid);
  ~ProcessEnd();
  ProcessEnd(const ProcessEnd&) = delete;
  ProcessEnd& operator=(const ProcessEnd&) = delete;
  bool came() const;

 private:
  int fd_;
};

}  // namespace tubwarden::cli
