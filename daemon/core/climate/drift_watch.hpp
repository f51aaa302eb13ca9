// Whether a quantity drifts steadily, and when it will be where: the means of eight slots of a
// window, by quarters. A sawtooth shorter than the window turns within it, and a run that begins to
// help makes it slower; neither is a drift. A longer one is, while it falls: whoever asks must know
// what would turn it. Threading: one owner, plain values. Failure: none; too few readings are no
// drift.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

class DriftWatch {
 public:
  static constexpr std::size_t kSlots = 8;
  /// Of the speed of the quarters before, so much must be left in the last: else it turns.
  static constexpr double kGoesOn = 0.7;
  /// Windows ahead that can be told of; further is a guess.
  static constexpr int kAhead = 3;

  explicit DriftWatch(Duration window) : window_(window) {}

  Duration window() const { return window_; }
  /// True when a slot is whole, and drift() may be another. A slot without a reading forgets all.
  bool reading(double value, Instant now);
  void forget() { count_ = readings_ = 0; }

  /// Units a second, where every quarter went the same way and all of them `least` or further.
  std::optional<double> drift(double least) const;
  /// When it is at `edge`, counted from the last whole slot; nothing where it goes away from it, is
  /// beyond it, or takes longer than can be told.
  std::optional<Instant> reaches(double edge, double least) const;

 private:
  Duration slot() const { return window_ / static_cast<int>(kSlots); }
  double quarter(std::size_t i) const { return (means_[2 * i] + means_[2 * i + 1]) / 2.0; }

  Duration window_;
  std::array<double, kSlots> means_{};  ///< the newest last
  std::size_t count_ = 0;
  Instant slot_begun_{};
  double sum_ = 0.0;
  std::size_t readings_ = 0;
};

}  // namespace tubwarden
