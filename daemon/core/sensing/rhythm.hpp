// A sensor's own rhythm: the median of the times between its messages, learned as it speaks.
// Threading: one owner, plain values; allocates nothing. Failure: none; no answer until learned.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

/// A sensor silent for so many of its median intervals, and for twice the longest of the last ones,
/// is late, but never sooner than kLateAtLeast: a radio loses a few messages in a row (common
/// practice, no source).
inline constexpr int kLateIntervals = 10;
inline constexpr int kLateLongest = 2;
inline constexpr Duration kLateAtLeast = seconds(30);

class Rhythm {
 public:
  /// A live message has come. What follows within a second is the same one.
  void heard(Instant now);
  /// The next interval says nothing: the broker was away, or the sensor was gone.
  void pause() { last_.reset(); }

  /// The median interval; nothing until kLearnedBy of them have been seen.
  std::optional<Duration> interval() const { return median_; }
  /// For how long the sensor may be silent before it is late; nothing until learned.
  std::optional<Duration> late_after() const { return late_after_; }

  static constexpr Duration kSameMessage = seconds(1);
  static constexpr std::size_t kKept = 15;
  static constexpr std::size_t kLearnedBy = 8;

 private:
  std::array<Duration, kKept> intervals_{};
  std::size_t count_ = 0;
  std::optional<Instant> last_;
  std::optional<Duration> median_;
  std::optional<Duration> late_after_;
};

}  // namespace tubwarden
