// A thread that does one thing after another, with a limit on what waits.
// Threading: push() from any thread; the work runs on the worker's own. Failure: push() says no
// when full.
#pragma once

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

  /// `idle` runs when nothing has come for `idle_after`, and once before the end.
  Worker(std::size_t limit, Duration idle_after, Work idle)
      : queue_(limit),
        idle_after_(idle_after),
        idle_(std::move(idle)),
        thread_([this] { run(); }) {}
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
    while (true) {
      std::optional<Work> work;
      {
        std::unique_lock lock(mutex_);
        ready_.wait_for(lock, idle_after_, [this] { return ending_ || !queue_.empty(); });
        if (!queue_.empty()) {
          work = queue_.pop();
        } else if (ending_) {
          break;
        }
      }
      if (work) {
        (*work)();
      } else if (idle_) {
        idle_();
      }
    }
    if (idle_) idle_();
  }

  std::mutex mutex_;
  std::condition_variable ready_;
  BoundedQueue<Work> queue_;
  bool ending_ = false;
  Duration idle_after_;
  Work idle_;
  std::thread thread_;
};

}  // namespace tubwarden
