// Wet surfaces: whether dew falls on one, and how long caps and casing have not been able to dry.
// Wet caps blotch: growers let them dry within three to four hours of watering (common practice,
// no source). Threading: one owner, plain values. Failure: none; what is not known dries nothing.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/air/units.hpp"

namespace tubwarden {

/// Humidity at which droplets no longer leave a surface (common practice, no source), % RH.
inline constexpr double kWetFrom = 93.0;
/// Water left on caps and casing by a watering, and by dew, g/m2 (assumed: a tenth of a millimetre,
/// and a hundredth).
inline constexpr double kWateredGM2 = 100.0;
inline constexpr double kDewGM2 = 10.0;

/// The inside of a plastic lid between air and room: 4 W/(m2 K) inside, 6 outside (docs/model.md).
Celsius lid_temperature(Celsius air, Celsius room);

/// g/(m2 h) that leave a wet surface: 4 W/(m2 K) of convection, by Lewis (docs/model.md). Negative
/// where it takes water up.
double dries_g_m2_h(Pascal deficit);

/// Dew falls on a surface at or below the dew point, and is over half a degree above it. Judged by
/// the pressures of vapour, which need no dew point.
class DewGuard {
 public:
  void judge(Celsius surface, Pascal vapour);
  void reset() { holds_ = false; }
  bool holds() const { return holds_; }

 private:
  bool holds_ = false;
};

/// The water on caps and casing, and since when it has not been gone.
class SurfaceFilm {
 public:
  struct Air {
    double humidity_pct = 0.0;
    Pascal deficit;  ///< what draws water from the coldest of the surfaces
  };
  /// Lets time pass in this air; nothing: it is not known, and dries nothing.
  void follow(const std::optional<Air>& air, Instant now);
  /// Water was given at `at`, not after `now`. What an earlier run did not see since has dried a
  /// quarter an hour.
  void watered(Instant at, Instant now);
  void forget() { *this = SurfaceFilm(); }

  bool wet() const { return since_.has_value(); }
  std::optional<Instant> since() const { return since_; }
  double grams_m2() const { return grams_m2_; }

 private:
  std::optional<Instant> told_, since_;
  double grams_m2_ = 0.0;
};

}  // namespace tubwarden
