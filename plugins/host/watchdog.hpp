// Watches one call at a time from a thread of its own: a call that does not return in time ends the
// process. It never calls into the plugin.
// Threading: guard() on the main thread; `on_hang` on the watchdog's. Failure: on_hang does not
// return.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <thread>

namespace tubwarden::host {

/// The call that is being watched. `call` is a static name.
struct WatchedCall {
  std::uint32_t output = 0;
  const char* call = "";
  std::uint32_t limit_ms = 0;
};

class Watchdog {
 public:
  /// `on_hang` runs while the main thread may hold any lock, the allocator's included: it must not
  /// allocate, and must end the process.
  explicit Watchdog(std::function<void(const WatchedCall&)> on_hang);
  ~Watchdog();
  Watchdog(const Watchdog&) = delete;
  Watchdog& operator=(const Watchdog&) = delete;

  class Guard {
   public:
    Guard(Watchdog& dog, const WatchedCall& call) : dog_(dog) { dog_.begin(call); }
    ~Guard() { dog_.end(); }
    Guard(const Guard&) = delete;
    Guard& operator=(const Guard&) = delete;

   private:
    Watchdog& dog_;
  };

 private:
  void begin(const WatchedCall& call);
  void end();
  void watch();

  std::function<void(const WatchedCall&)> on_hang_;
  std::mutex lock_;
  std::condition_variable changed_;
  WatchedCall call_;
  std::chrono::steady_clock::time_point deadline_{};
  bool watching_ = false;
  bool ending_ = false;
  std::thread thread_;
};

}  // namespace tubwarden::host
