// Whether a portion moved the air at all. One that did not is no evidence of a smaller gain: the
// tank may be empty, and a portion grown on that would flood the tub once it is filled again.
// Threading: one owner, plain values. Failure: none; a window that was disturbed judges nothing.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/climate/air_forecast.hpp"

namespace tubwarden {

class MistWatch {
 public:
  /// A portion begins: what it should lift the reading by, where the reading and its drift stand,
  /// and what is known so far.
  void begin(double expected, double reading, double drift, const AirForecast::Learned& known,
             Duration run, Instant now);
  /// Something else moves the air: nothing can be told of the portion under watch.
  void disturbed() { watched_.reset(); }

  /// `little`: more than nothing, and not enough to prove what it was dosed by.
  enum class Verdict { none, moved, little, nothing };
  /// A reading, `settles` after which a portion shows. `step` is the least that counts.
  Verdict reading(double value, double step, Duration settles, Instant now);

  /// Two portions in a row that could be judged moved nothing.
  bool suspected() const { return nothing_in_a_row_ >= 2; }
  /// The last portion that could be judged moved nothing.
  bool doubted() const { return nothing_in_a_row_ > 0; }
  int nothing_in_a_row() const { return nothing_in_a_row_; }
  /// Portions since the last that was seen to move the air, judged or not.
  int unproved() const { return unproved_; }
  /// What was known before the first portion that moved nothing.
  const std::optional<AirForecast::Learned>& known_before() const { return known_before_; }
  /// The longest run that may be tried while suspected, where a second lifts the reading by `gain`:
  /// the last that moved the air, and no less than what can be told from nothing.
  Duration longest_tried(double gain, double step) const;

 private:
  struct Watched {
    double expected, reading, drift;
    Instant began;
    Duration run;
    AirForecast::Learned known;
    double highest;
  };
  std::optional<Watched> watched_;
  std::optional<AirForecast::Learned> known_before_;
  Duration last_effective_{seconds(1)};
  int nothing_in_a_row_ = 0;
  int unproved_ = 0;
};

}  // namespace tubwarden
