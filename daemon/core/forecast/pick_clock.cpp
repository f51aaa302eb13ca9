#include "core/forecast/pick_clock.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"

namespace tubwarden {
namespace {

constexpr double kSizeError = 0.322;  ///< log2 of a quarter more
constexpr double kSlopeError = kDoublingsADay / 6.0;
/// Slower or faster is no bed of this kind.
constexpr double kSlopeLeast = 0.3, kSlopeMost = 2.0;
constexpr double kPickEightyPct = 1.2816;
constexpr double kSizeLeastMm = 0.2, kSizeMostMm = 300.0;
constexpr Celsius kPickColdest{8.0}, kPickWarmest{22.0};

Error refuse_pins(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

std::optional<Error> fault_of_pins(const PickCase& tub) {
  if (tub.pins.empty() || tub.pins.size() > kPinLooksMost) {
    return refuse_pins(
        fmt::format("{} looks at pins; allowed: 1 to {}", tub.pins.size(), kPinLooksMost));
  }
  for (const PinLook& look : tub.pins) {
    if (!(look.size_mm >= kSizeLeastMm && look.size_mm <= kSizeMostMm)) {
      return refuse_pins(fmt::format("pins of {} mm; allowed: {} to {} mm", trimmed(look.size_mm),
                                     kSizeLeastMm, kSizeMostMm));
    }
    if (look.at > tub.now) return refuse_pins("pins seen in the future; allowed: until now");
  }
  if (!(tub.pick_size_mm >= 5.0 && tub.pick_size_mm <= kSizeMostMm)) {
    return refuse_pins(fmt::format("picked at {} mm; allowed: 5 to {} mm",
                                   trimmed(tub.pick_size_mm), kSizeMostMm));
  }
  if (!std::isfinite(tub.ahead.value)) return refuse_pins("no temperature of the substrate ahead");
  return std::nullopt;
}

/// A straight line through the middle of the looks.
struct Line {
  double middle_days = 0.0, middle_log2 = 0.0;
  double slope = kDoublingsADay, slope_error = kSlopeError;
  double middle_error = kSizeError;
};

Line line_through(const std::vector<PinLook>& pins, const WarmTime& warm) {
  Line line;
  const double n = static_cast<double>(pins.size());
  for (const PinLook& look : pins) {
    line.middle_days += warm.days_at(look.at) / n;
    line.middle_log2 += std::log2(look.size_mm) / n;
  }
  double xx = 0.0, xy = 0.0;
  for (const PinLook& look : pins) {
    const double x = warm.days_at(look.at) - line.middle_days;
    xx += x * x;
    xy += x * (std::log2(look.size_mm) - line.middle_log2);
  }
  const double seen = 1.0 / (kSizeError * kSizeError), believed = 1.0 / (kSlopeError * kSlopeError);
  const double worth = xx * seen + believed;
  line.slope = std::clamp((xy * seen + kDoublingsADay * believed) / worth, kSlopeLeast, kSlopeMost);
  line.slope_error = 1.0 / std::sqrt(worth);
  line.middle_error = kSizeError / std::sqrt(n);
  return line;
}

}  // namespace

double pick_pace(Celsius substrate) {
  const double t = std::clamp(substrate.value, kPickColdest.value, kPickWarmest.value);
  return std::pow(kPickQ10, (t - kPickReference.value) / 10.0);
}

WallTime evening_of(WallTime t, std::chrono::minutes zone) {
  // From 06:00 to 06:00 local the evening between is the nearest.
  const auto local = t + zone - hours(kEveningHour - 12);
  const auto day = std::chrono::floor<days>(local.time_since_epoch());
  return WallTime(day) + hours(kEveningHour) - zone;
}

Result<PickForecast> forecast_pick(const PickCase& tub) {
  if (const auto fault = fault_of_pins(tub)) return *fault;
  const WallTime first = std::ranges::min(tub.pins, {}, &PinLook::at).at;
  const WarmTime warm(tub.history, first, tub.now, tub.ahead, pick_pace);
  const Line line = line_through(tub.pins, warm);
  const double on = (std::log2(tub.pick_size_mm) - line.middle_log2) / line.slope;
  const double error = std::hypot(line.middle_error, on * line.slope_error) / line.slope;
  const auto at = [&](double days_on) { return warm.reached(line.middle_days + days_on); };
  const auto early = at(on - kPickEightyPct * error), likely = at(on),
             late = at(on + kPickEightyPct * error);
  if (!early || !likely || !late) return refuse_pins("the pins do not grow within ten years");
  PickForecast told;
  told.ready = {*early, *likely, *late};
  told.evening = evening_of(*likely, tub.zone);
  told.evening_early = evening_of(*early, tub.zone);
  told.evening_late = evening_of(*late, tub.zone);
  told.size_now_mm =
      std::exp2(line.middle_log2 + line.slope * (warm.days_at(tub.now) - line.middle_days));
  told.doublings_a_day = line.slope;
  told.looks = tub.pins.size();
  return told;
}

}  // namespace tubwarden
