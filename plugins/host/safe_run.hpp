// The safe-run: a new process that opens the outputs of a hung host and makes them safe.
// Threading: SafeRunStarter is prepared on the main thread and started on the watchdog's.
// Failure: a safe-run that cannot make all safe says so and exits with kExitUnsafe.
#pragma once

#include <spawn.h>

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "sdk/protocol.hpp"

namespace tubwarden::host {

/// The numbers under which a safe-run finds its socket and its order.
inline constexpr int kSocketFd = 3, kSpecFd = 4;

/// Holds everything a safe-run needs ready, so that starting one needs no memory.
class SafeRunStarter {
 public:
  /// `socket` is inherited, so that the daemon sees the end of both.
  SafeRunStarter(std::string plugin_path, int socket);
  ~SafeRunStarter();
  SafeRunStarter(const SafeRunStarter&) = delete;
  SafeRunStarter& operator=(const SafeRunStarter&) = delete;

  /// Keeps what is open now; before any call that could hang.
  void keep(const std::vector<protocol::Open>& outputs);
  /// Starts it; the output that hung comes last. Does not allocate. False: it could not be started.
  bool start(std::uint32_t hung_output) noexcept;
  bool nothing_open() const { return nothing_open_; }

 private:
  std::string plugin_path_;
  int spec_ = -1;
  int self_ = -1;  ///< pidfd of this process, whose end the safe-run waits for
  int socket_ = -1;
  bool nothing_open_ = true;
  posix_spawn_file_actions_t actions_{};
  posix_spawnattr_t attributes_{};
  std::array<char, 16> last_{};
};

struct SafeRunOrder {
  int socket = -1;  ///< where to tell; -1: stderr only
  int spec = -1;    ///< a file with the encoded SafeRun
  int after = -1;   ///< pidfd to wait for, at most a second; -1: none
  std::uint32_t last = 0;
  bool talks = true;  ///< says on stderr, too, what it tells the socket
  /// The limit of a plugin's call, and how long outputs out of reach are waited for.
  std::uint32_t call_ms_max = protocol::kCallMsMax;
  Duration reach_max = seconds(2);
};
/// The whole life of a safe-run; returns its exit code.
int safe_run(const SafeRunOrder& order);

}  // namespace tubwarden::host
