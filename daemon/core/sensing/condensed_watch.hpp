// Whether a humidity sensor is wet: it stands at the top of its range for long, though the air
// grew warmer or the last mist is long over. A wet sensor says 100 % whatever the air does.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <optional>

#include "base/time.hpp"

namespace tubwarden {

/// All common practice, no source.
inline constexpr double kWetTop = 0.5;      ///< % RH below the top of the range is still the top
inline constexpr double kWetRelease = 2.0;  ///< % RH below the top it is dry again
inline constexpr double kWetWarming = 1.0;  ///< C: at 17 C and full, 1 C more leaves 94 % RH
inline constexpr Duration kWetAfter = minutes(30);
/// A mist so long before it reached the top may be what wetted it.
inline constexpr Duration kWetMistBefore = minutes(10);

class CondensedWatch {
 public:
  /// One reading, in % RH, of a sensor whose range ends at `top`.
  void reading(double value, double top, Instant taken);
  /// The air's temperature now, in C, and whether a mister runs. Nothing where it is not known.
  void around(std::optional<double> celsius, bool misting, Instant now);
  bool condensed(Instant now) const;
  /// When condensed() may change its answer though nothing happens.
  std::optional<Instant> due() const;
  /// Since when it stands at the top.
  std::optional<Instant> at_top_since() const { return since_; }
  /// It has left the top, or is not listened to.
  void forget();

 private:
  std::optional<Instant> since_;
  std::optional<double> coldest_;
  bool misted() const;

  bool warmed_ = false;
  std::optional<Instant> last_mist_;
};

}  // namespace tubwarden
