// A loop for tests: what the record's threads post is done when the test asks.
// Threading: post from any thread; run_until on the test's. Failure: run_until answers false in the
// end.
#pragma once

#include <functional>
#include <mutex>
#include <utility>
#include <vector>

#include "parts/parts.hpp"

class LoopOfOne {
 public:
  std::function<void(std::function<void()>)> post() {
    return [this](std::function<void()> work) {
      const std::lock_guard lock(mutex_);
      waiting_.push_back(std::move(work));
    };
  }
  void run() {
    std::vector<std::function<void()>> now;
    {
      const std::lock_guard lock(mutex_);
      now.swap(waiting_);
    }
    for (auto& work : now) work();
  }
  bool run_until(const std::function<bool()>& sign) {
    return parts::wait_until(
        [&] {
          run();
          return sign();
        },
        std::chrono::seconds(10));
  }

 private:
  std::mutex mutex_;
  std::vector<std::function<void()>> waiting_;
};
