#include "host/limits.hpp"

#include <linux/close_range.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <limits>
#include <string>

namespace tubwarden::host {

namespace {

using protocol::Limit;

constexpr std::uint64_t kMiB = 1u << 20;

/// Soft and hard, neither above what is allowed now. An error's words, or nothing.
std::string set(__rlimit_resource_t what, rlim_t soft, rlim_t hard) {
  rlimit now{};
  if (::getrlimit(what, &now) != 0) return std::strerror(errno);
  const rlimit wanted{std::min(soft, now.rlim_max), std::min(hard, now.rlim_max)};
  return ::setrlimit(what, &wanted) == 0 ? "" : std::strerror(errno);
}

Limit told(const char* what, const std::string& error, const std::string& how) {
  return {what, error.empty(), error.empty() ? how : error};
}

/// What counts already against the memory limit: private and writable, in bytes.
std::uint64_t data_now() {
  std::ifstream status("/proc/self/status");
  for (std::string word; status >> word;) {
    std::uint64_t kib = 0;
    if (word == "VmData:" && status >> kib) return kib * 1024;
  }
  return 0;
}

/// Of data rather than of addresses: a mapped library, or what the allocator only reserves, costs
/// nothing. Threads' stacks count, 8 MiB each.
Limit memory(std::uint32_t mib) {
  const std::uint64_t bytes = mib * kMiB;
  const std::uint64_t began = data_now();
  if (began + kMemoryReserve > bytes) {
    return {"memory", false,
            "it begins with " + std::to_string(began / kMiB) + " MiB, which is more than " +
                std::to_string(mib) + " MiB"};
  }
  return told("memory", set(RLIMIT_DATA, bytes, bytes + kMemoryReserve),
              std::to_string(mib) + " MiB");
}

Limit no_new_privileges() {
  const bool set = ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0;
  return told("new privileges", set ? "" : std::strerror(errno), "none");
}

/// They are the daemon's to close, and it does; a host that somebody else starts is held as well.
void close_others(int socket) {
  const auto close_range = [](unsigned from, unsigned to) {
    if (from <= to) ::syscall(SYS_close_range, from, to, 0);
  };
  const auto kept = static_cast<unsigned>(std::max(socket, STDERR_FILENO));
  close_range(STDERR_FILENO + 1, kept - 1);
  close_range(kept + 1, std::numeric_limits<unsigned>::max());
}

}  // namespace

std::vector<Limit> limit_process(const LimitOrder& order, int socket) {
  close_others(socket);
  std::vector<Limit> limits;
  limits.push_back(memory(order.memory_mib));
  // The hard limit stays open: the daemon, its like in rights, moves the soft one on.
  limits.push_back(told("cpu", set(RLIMIT_CPU, order.cpu_s, RLIM_INFINITY),
                        std::to_string(order.cpu_s) + " s a window"));
  limits.push_back(told("descriptors", set(RLIMIT_NOFILE, kDescriptorsMax, kDescriptorsMax),
                        std::to_string(kDescriptorsMax)));
  limits.push_back(told("core", set(RLIMIT_CORE, 0, 0), "none"));
  limits.push_back(no_new_privileges());
  return limits;
}

void use_reserve() noexcept {
  rlimit now{};
  if (::getrlimit(RLIMIT_DATA, &now) != 0) return;
  now.rlim_cur = now.rlim_max;
  ::setrlimit(RLIMIT_DATA, &now);
}

}  // namespace tubwarden::host
