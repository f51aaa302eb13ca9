// A queue with a limit: what a full one drops is counted, never silently lost.
// Threading: not synchronised; the owner locks or stays on one thread. Failure: push returns false.
#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <utility>

#include "base/ensure.hpp"

namespace tubwarden {

template <class T>
class BoundedQueue {
 public:
  explicit BoundedQueue(std::size_t limit) : limit_(limit) { ENSURE(limit > 0); }

  /// Adds at the end, or counts a drop and returns false when full: the oldest stay.
  bool push(T item) {
    if (items_.size() >= limit_) {
      ++dropped_;
      return false;
    }
    items_.push_back(std::move(item));
    return true;
  }
  T pop() {
    ENSURE(!items_.empty());
    T item = std::move(items_.front());
    items_.pop_front();
    return item;
  }
  bool empty() const { return items_.empty(); }
  std::size_t size() const { return items_.size(); }
  std::uint64_t dropped() const { return dropped_; }

 private:
  std::size_t limit_;
  std::deque<T> items_;
  std::uint64_t dropped_ = 0;
};

}  // namespace tubwarden
