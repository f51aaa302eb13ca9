// One reading far beyond what the air can do is held until the next one confirms it.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <cstdint>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

struct SpikeLimits {
  double jump = 0.0;            ///< kept unit; a change this large needs no time
  double fastest_minute = 0.0;  ///< kept unit a minute, on top
};

class SpikeFilter {
 public:
  static constexpr int kJumpingAfter = 3;

  enum class Verdict : std::uint8_t { taken, held };

  /// Judges one live reading. `usable` says whether the last one taken may still be compared with:
  /// after a long silence any value is as good as any other.
  Verdict judge(double value, Instant taken, bool usable, const SpikeLimits& limits);
  /// A held reading that nothing contradicted for `patience`: a sensor that speaks on change only
  /// would have spoken again. Gives it once.
  struct Held {
    double value = 0.0;
    Instant taken{};
  };
  std::optional<Held> confirmed_by_silence(Duration patience, Instant now);
  /// When confirmed_by_silence() has an answer; nothing while nothing is held.
  std::optional<Instant> silence_until(Duration patience) const;

  /// So many readings in a row were held, each far from all before: the sensor jumps about.
  bool jumping() const { return held_in_a_row_ >= kJumpingAfter; }
  /// Readings that were held and never confirmed, since the start.
  std::uint64_t dropped() const { return dropped_; }
  /// What came before is no measure any more: the broker was away, or the sensor was gone.
  void forget();

 private:
  std::optional<Held> last_, held_;
  int held_in_a_row_ = 0;
  std::uint64_t dropped_ = 0;
};

}  // namespace tubwarden
