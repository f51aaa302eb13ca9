// What the kernel holds a plugin's process to: memory, CPU, descriptors, no core, no new
// privileges. Set before the plugin is loaded, so that what it does on loading is held, too.
// Threading: limit_process() on the main thread while it is the only one; use_reserve() on any.
// Failure: a limit that cannot be set is told as one that does not hold; the host goes on.
#pragma once

#include <cstdint>
#include <vector>

#include "sdk/protocol.hpp"

namespace tubwarden::host {

struct LimitOrder {
  std::uint32_t memory_mib = 128;
  /// Of CPU time, until the daemon grants more; see HostProcess.
  std::uint32_t cpu_s = 15;
};

/// Descriptors of one process: 64 outputs with three each, and our own.
inline constexpr std::uint32_t kDescriptorsMax = 256;
/// Kept back, so that a safe-run can be started by a host that has none left.
inline constexpr std::uint64_t kMemoryReserve = 8u << 20;

/// Closes every descriptor but 0, 1, 2 and `socket`, and sets all limits.
std::vector<protocol::Limit> limit_process(const LimitOrder& order, int socket);

/// Lets go of the memory kept back. Does not allocate.
void use_reserve() noexcept;

}  // namespace tubwarden::host
