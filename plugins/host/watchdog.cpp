#include "host/watchdog.hpp"

#include <utility>

namespace tubwarden::host {

Watchdog::Watchdog(std::function<void(const WatchedCall&)> on_hang)
    : on_hang_(std::move(on_hang)), thread_([this] { watch(); }) {}

Watchdog::~Watchdog() {
  {
    const std::lock_guard hold(lock_);
    ending_ = true;
  }
  changed_.notify_one();
  thread_.join();
}

void Watchdog::begin(const WatchedCall& call) {
  {
    const std::lock_guard hold(lock_);
    call_ = call;
    deadline_ = std::chrono::steady_clock::now() + std::chrono::milliseconds(call.limit_ms);
    watching_ = true;
  }
  changed_.notify_one();
}

void Watchdog::end() {
  // No notice: the thread wakes at the old deadline and finds nothing to do.
  const std::lock_guard hold(lock_);
  watching_ = false;
}

void Watchdog::watch() {
  std::unique_lock hold(lock_);
  while (!ending_) {
    if (!watching_) {
      changed_.wait(hold);
      continue;
    }
    const auto deadline = deadline_;
    changed_.wait_until(hold, deadline);
    const bool over = watching_ && std::chrono::steady_clock::now() >= deadline_;
    if (over && !ending_) {
      on_hang_(call_);
      return;
    }
  }
}

}  // namespace tubwarden::host
