// A thread that does one thing after another, with a limit on what waits, and one thing each so
// often.
// Threading: push() from any thread; the work runs on the worker's own. Failure: push() says no
// when full.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>

#include "base/bounded_queue.hpp"
#include "base/time.hpp"

namespace tubwarden {

class Worker {
 public:
  using Work = std::function<void()>;

  /// `tick` runs each `every`, between two works, and once before the end.
  Worker(std::size_t limit, Duration every, Work tick)
      : queue_(limit), every_(every), tick_(std::move(tick)), thread_([this] { run(); }) {}
  ~Worker() { finish(); }
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;

  bool push(Work work) {
    {
      const std::lock_guard lock(mutex_);
      if (ending_ || !queue_.push(std::move(work))) return false;
    }
    ready_.notify_one();
    return true;
  }

  /// Does what waits, then ends. Again is nothing.
  void finish() {
    {
      const std::lock_guard lock(mutex_);
      ending_ = true;
    }
    ready_.notify_one();
    if (thread_.joinable()) thread_.join();
  }

 private:
  void run() {
    auto due = std::chrono::steady_clock::now() + every_;
    while (true) {
      std::optional<Work> work;
      {
        std::unique_lock lock(mutex_);
        ready_.wait_until(lock, due, [this] { return ending_ || !queue_.empty(); });
        if (!queue_.empty()) {
          work = queue_.pop();
        } else if (ending_) {
          break;
        }
      }
      if (work) (*work)();
      if (std::chrono::steady_clock::now() < due) continue;
      if (tick_) tick_();
      due = std::chrono::steady_clock::now() + every_;
    }
    if (tick_) tick_();
  }

  std::mutex mutex_;
  std::condition_variable ready_;
  BoundedQueue<Work> queue_;
  bool ending_ = false;
  Duration every_;
  Work tick_;
  std::thread thread_;
};

}  // namespace tubwarden
