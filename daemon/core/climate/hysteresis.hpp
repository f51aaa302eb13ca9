// Hysteresis of one quantity: when the air is to be raised or lowered, by the band it is kept in.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <string_view>

#include "core/climate/phase_plan.hpp"

namespace tubwarden {

enum class Call { none, raise, lower };
std::string_view name_of(Call call);

/// A band, and which of its halves are obeyed.
struct KeptBand {
  Band band;
  bool raises = true;  ///< false for keep_below
  bool lowers = true;  ///< false for keep_above
  /// A raising actuator starts below this and stops at the middle.
  constexpr double raise_start() const { return band.low + band.width() / 4.0; }
  /// A lowering actuator starts above this and stops at the middle.
  constexpr double lower_start() const { return band.high - band.width() / 4.0; }
};

/// The band a `keep` means: [low, high]; [X, 100 %] for keep_above; [room, X] for keep_below.
/// `room` is the quantity's value in the room around (ppm for CO2), used by keep_below only.
KeptBand kept_band(const Keep& keep, double room);

/// Between the two start points nothing starts; what runs goes on to the middle.
class Hysteresis {
 public:
  Call judge(double value, const KeptBand& kept);
  /// Nothing can be judged: no call, and a fresh start once it can.
  void reset() { call_ = Call::none; }
  Call call() const { return call_; }

 private:
  Call call_ = Call::none;
};

}  // namespace tubwarden
