// The outputs behind their drivers. Every command is on loan: the implementation renews the lease
// while its loop turns, and the host lets it fall when it is not renewed. Threading: all calls and
// reports on the loop's thread. Failure: reported, never thrown.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

enum class OutputHealth {
  starting,     ///< host or plugin not ready yet; the output is at its safe level or not open
  ready,        ///< obeys
  unconfirmed,  ///< commanded, no confirmation within 5 s (outputs with a confirmation only)
  failed_safe,  ///< several crashes in a window: safe until acknowledged
  unsafe,       ///< could not be made safe: a person must look
};
std::string_view name_of(OutputHealth health);

struct OutputReport {
  OutputId id;
  OutputHealth health = OutputHealth::starting;
  /// What the output confirmed by itself, if it has a confirmation.
  std::optional<Level> confirmed;
  std::string why;  ///< one sentence; empty when ready
};

/// One thing that the kernel holds a host to, or why it does not: "memory", "128 MiB".
struct HostLimit {
  std::string what;
  bool holds = false;
  std::string how;
};

/// What `status` shows of an output's host.
struct HostView {
  OutputId id;
  std::string plugin;
  int pid = 0;
  int restarts = 0;
  bool confirms = false;  ///< the output says by itself how it stands
  Duration lease_left{0};
  OutputHealth health = OutputHealth::starting;
  std::vector<HostLimit> limits = {};  ///< of its process; empty until that has told them
};

class Drivers {
 public:
  virtual ~Drivers() = default;
  virtual void start(std::function<void(const OutputReport&)> report) = 0;
  /// The whole set wanted from now on. A changed or removed one is made safe and closed first.
  virtual void want(std::vector<OutputPlan> outputs) = 0;
  /// Sets a level; `run` ends it by the host's own clock (0: holds while leased), then rest.
  /// A host that is not ready drops it: after a restart the next command counts, not an old one.
  virtual void command(const OutputId& id, Level level, Duration run) = 0;
  /// Acknowledges failed safe: the host is started again.
  virtual void release(const OutputId& id) = 0;
  virtual std::vector<HostView> hosts() const = 0;
  /// Makes every output safe and ends the hosts; `done` when all have ended (or were killed).
  virtual void stop(std::function<void()> done) = 0;
};

}  // namespace tubwarden
