// The pick clock: from pins seen to the evening of the first pick. Threading: pure. Failure: an
// Error that names what of the pins cannot be, or a substrate too cold or too warm to tell.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "core/forecast/colonization.hpp"
#include "core/forecast/warm_time.hpp"

namespace tubwarden {

/// Caps double in size in 24 h while they expand (Beyer, Basic Procedures for Agaricus Mushroom
/// Growing, Penn State, as copied); told of beds at 16 to 18 C (V. P. Sharma, Handbook of
/// Horticulture, ICAR 2019, p. 563, as cited, which has 3 to 4 days from pin to pick: 3.7 doublings
/// from 3 to 40 mm agree).
inline constexpr double kDoublingsADay = 1.0;
inline constexpr Celsius kPickReference{17.0};
/// How the pace of caps follows temperature: Q10 = 2 (common practice for growth; the breath of
/// such beds gives 1.6 to 3.4, reckoned from a growers' manual). Held at the pace of 8 and of 22 C
/// outside of them, where nothing is known.
inline constexpr double kPickQ10 = 2.0;
/// Cap of the first pick (common practice, no source), and a pin as it is first seen.
inline constexpr double kPickSizeMm = 40.0, kPinMm = 2.0;
inline constexpr std::size_t kPinLooksMost = 200;
/// The hour that an evening is told as.
inline constexpr int kEveningHour = 18;

/// 1 at the reference.
double pick_pace(Celsius substrate);

struct PinLook {
  WallTime at;
  double size_mm = kPinMm;  ///< cap of the largest, by eye
};

struct PickCase {
  std::vector<PinLook> pins;             ///< of this flush, one or more, in any order
  std::vector<TemperatureStep> history;  ///< of the substrate; by time
  WallTime now;
  Celsius ahead = kPickReference;  ///< assumed from now on
  double pick_size_mm = kPickSizeMm;
  /// Local time less UTC, for the evening.
  std::chrono::minutes zone{0};
};

struct PickForecast {
  ForecastSpan ready;  ///< the first reaches its size; the interval is to hold in 80 of 100
  WallTime evening;    ///< the evening nearest to it, 18:00 local
  WallTime evening_early, evening_late;  ///< those nearest to the interval's ends
  double size_now_mm = 0.0;              ///< of the largest, as reckoned
  double doublings_a_day = 1.0;          ///< at the reference, with what the pins' own growth says
  std::size_t looks = 0;
};

/// log2(size) grows with warm time (Q10, days at the reference): a straight line through the looks,
/// whose slope is believed to be one doubling a day, by a sixth, and whose sizes an eye tells by a
/// quarter (choices). The night up to 06:00 belongs to the evening before: who waits for the next
/// picks open caps.
Result<PickForecast> forecast_pick(const PickCase& tub);

/// 18:00 local of the evening nearest to an instant.
WallTime evening_of(WallTime t, std::chrono::minutes zone);

}  // namespace tubwarden
