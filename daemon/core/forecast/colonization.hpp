// When a jar is to be shaken, and when it is grown through: from what the eye saw of it, the
// temperature it stood in, and the profile's window. Threading: pure. Failure: an Error that names
// what of the looks or the window cannot be.
#pragma once

#include <optional>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "core/forecast/warm_time.hpp"

namespace tubwarden {

/// A jar is shaken from 20 to 30 % grown through (common practice, no source).
inline constexpr double kShakeFromPct = 20.0, kShakeToPct = 30.0;
/// Counts as full: the last spots of bare grain are smaller than an eye finds through glass.
inline constexpr double kFullPct = 98.0;
/// So many looks make a curve.
inline constexpr std::size_t kLooksLeast = 3, kLooksMost = 1000;

struct GrownLook {
  WallTime at;
  double percent = 0.0;  ///< of the grain, by eye; some 7 points off
};

struct ColonizationCase {
  WallTime inoculated;                   ///< where the curve begins
  std::vector<GrownLook> looks;          ///< in any order
  std::vector<WallTime> shakes;          ///< in any order
  std::vector<TemperatureStep> history;  ///< of the jar's air, by time
  WallTime now;
  /// Until then the history speaks; from then on this, the middle of the phase's band, is assumed,
  /// and its halfwidth counts as doubt.
  Celsius ahead{24.0};
  double ahead_halfwidth_c = 1.0;
  /// The profile's `expect`: from .. to, as the days of a jar kept at `ahead`.
  Duration window_from{0}, window_to{0};
};

/// An instant and an interval about it.
struct ForecastSpan {
  WallTime early, likely, late;
};

enum class ForecastBasis {
  looks,   ///< a curve was fitted: early to late is to hold the truth in 80 of 100 cases
  window,  ///< fewer than three looks: nothing fitted, early and late are the profile's window
};

struct ColonizationForecast {
  ForecastBasis basis = ForecastBasis::window;  ///< of `full`
  std::size_t looks_used = 0;                   ///< for `full`
  bool shaken = false;
  /// From looks before the first shake, three or more; nothing otherwise.
  std::optional<ForecastSpan> shake_from, shake_to;
  ForecastSpan full;
  /// The look that found it full; then there is nothing to forecast.
  std::optional<WallTime> seen_full;
  double warm_days = 0.0;          ///< until now, days as at 25 C
  double known_temperature = 1.0;  ///< share of the time until now
};

/// The fit: a logistic in warm time (colonization_fit.hpp). The window is a weak belief: its
/// middle, by a half or by its own halfwidth, whichever is wider. Shaking spreads the mycelium and
/// what can be seen falls back: looks before a shake are of another curve. So `full` is fitted to
/// the looks since the last shake, in a curve that begins there, and is believed to take half of
/// the window again, by a half (common practice: a week to ten days). The interval leaves out a
/// tenth of the allowed curves on either side, and is widened by what the temperature ahead may be.
Result<ColonizationForecast> forecast_colonization(const ColonizationCase& jar);

/// What a forecast was off by, positive where it came later than told.
struct ForecastError {
  Duration off{0};
  bool within = false;  ///< the interval held it
};
ForecastError error_of(const ForecastSpan& told, WallTime came);

}  // namespace tubwarden
