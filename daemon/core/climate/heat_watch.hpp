// Whether a heater's warmth arrives: slow and lost on its way, so that one run tells nothing. A
// stretch of some hours is held against one of the day before it in which less was given: if the
// bed did no better by the more, nothing came of it. A heater that is merely too weak, in a room as
// cold as then, still does better. Threading: one owner, plain values. Failure: none; what cannot
// be told is nothing.
#pragma once

#include <cstddef>
#include <deque>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

class HeatWatch {
 public:
  static constexpr Duration kSlot = minutes(30);
  /// Slots of a stretch, and those that are kept: a day.
  static constexpr std::size_t kStretch = 6;
  static constexpr std::size_t kSlots = 48;
  /// Less than this share of what the more of warmth should have done is nothing.
  static constexpr double kNothing = 0.15;
  /// K: so much more must have been given, where the room is known to be no colder, and where
  /// nobody says (common practice, no source).
  static constexpr double kMore = 1.5;
  static constexpr double kMoreUnknown = 3.0;
  /// K: a room, or a bed, that far from what it was then is another.
  static constexpr double kAlike = 1.0;

  /// What should have come, and what came of it, in K.
  struct Nothing {
    double expected = 0.0, came = 0.0;
  };

  /// Nominal warmth given since the last call, K; of a cooler, cold.
  void gave(double kelvin) { given_ += kelvin; }
  /// A reading of the bed and what is known of the room, C; of a cooler both negated. An answer at
  /// the end of a slot, where the last two stretches say the same.
  std::optional<Nothing> reading(double value, std::optional<double> room, Instant now);
  void forget();

 private:
  struct Slot {
    double given, value;
    std::optional<double> room;
  };
  std::optional<Nothing> judge(std::size_t end) const;
  double given_between(std::size_t end) const;
  /// Whether each of the last slots of a stretch got more than that.
  bool more_throughout(std::size_t end, double than) const;
  /// Nothing where it was not known all the time.
  std::optional<double> room_between(std::size_t end, bool warmest) const;

  std::deque<Slot> slots_;
  std::optional<Instant> begun_;
  double given_ = 0.0, sum_ = 0.0;
  int readings_ = 0;
};

}  // namespace tubwarden
