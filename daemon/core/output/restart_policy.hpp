// Whether a crashed host is started again: soon at first, never after three crashes in ten minutes
// until a person acknowledges. Threading: one owner, plain values. Failure: none.
#pragma once

#include <cstdint>
#include <deque>

#include "base/time.hpp"

namespace tubwarden {

class RestartPolicy {
 public:
  static constexpr int kCrashesMax = 3;
  static constexpr Duration kWindow = minutes(10);
  /// Before the first and the second restart. The first is short: the restart itself makes the
  /// output safe.
  static constexpr Duration kFirstBackoff = milliseconds(100);
  static constexpr Duration kSecondBackoff = seconds(1);

  struct Verdict {
    bool failed_safe = false;  ///< no restart until acknowledge()
    Duration backoff{0};       ///< otherwise, how long to wait before it
  };

  /// A crash exactly `kWindow` old no longer counts. A crash while failed safe changes nothing.
  Verdict crashed(Instant now);
  void acknowledge();
  bool failed_safe() const { return failed_safe_; }
  /// All crashes since the start, acknowledged ones too.
  std::uint64_t crashes() const { return total_; }

 private:
  std::deque<Instant> recent_;
  bool failed_safe_ = false;
  std::uint64_t total_ = 0;
};

}  // namespace tubwarden
