#include "programs/cli/drill_parts.hpp"

#include <poll.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>

namespace tubwarden::cli {
namespace {

Duration seconds_in(const Json& object, const char* name) {
  return from_seconds(number(object, name).value_or(0.0));
}

}  // namespace

DrillOutput drill_output(const Json& o) {
  DrillOutput out;
  out.id = text(o, "id");
  out.health = text(o, "health");
  out.pid = static_cast<int>(number(o, "pid").value_or(0));
  out.lease = seconds_in(o, "lease_s");
  const Duration longest = seconds_in(o, "longest_run_s");
  out.run = longest > Duration{0} ? std::min(longest, kDrillRun) : kDrillRun;
  out.run = std::max(out.run, seconds_in(o, "shortest_run_s"));
  out.safe_rests = number(o, "safe_pct").value_or(0) <= 0;
  const Json& wiring = member(o, "wiring");
  out.confirm = text(wiring, "confirm");
  out.says_run = text(wiring, "run");
  out.says_rest = text(wiring, "rest");
  return out;
}

ProcessEnd::ProcessEnd(int pid) : fd_(static_cast<int>(::syscall(SYS_pidfd_open, pid, 0))) {}

ProcessEnd::~ProcessEnd() {
  if (fd_ >= 0) ::close(fd_);
}

bool ProcessEnd::came() const {
  if (fd_ < 0) return true;
  pollfd p{fd_, POLLIN, 0};
  return ::poll(&p, 1, 0) > 0;
}

}  // namespace tubwarden::cli
