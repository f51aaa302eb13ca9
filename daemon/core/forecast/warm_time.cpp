#include "core/forecast/warm_time.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr double kMsADay = 86'400'000.0;
constexpr double kDaysMost = 3650.0;

double days_between(WallTime from, WallTime to) {
  return static_cast<double>((to - from).count()) / kMsADay;
}

WallTime later(WallTime from, double days_on) {
  return from + WallClock::duration(static_cast<std::int64_t>(std::llround(days_on * kMsADay)));
}

}  // namespace

double growth_pace(Celsius temperature, const CardinalTemperatures& at) {
  const double t = temperature.value, n = at.least.value, o = at.best.value, x = at.most.value;
  if (!(t > n && t < x)) return 0.0;
  const double below = (o - n) * ((o - n) * (t - o) - (o - x) * (o + n - 2.0 * t));
  return std::clamp((t - x) * (t - n) * (t - n) / below, 0.0, 1.0);
}

double mycelium_pace(Celsius t) { return growth_pace(t); }

WarmTime::WarmTime(std::span<const TemperatureStep> history, WallTime from, WallTime now,
                   Celsius ahead, Pace pace)
    : pace_ahead_(pace(ahead)) {
  knots_.push_back({from, 0.0});
  now = std::max(now, from);
  double known = 0.0;
  std::optional<Celsius> t;
  const auto pass = [&](WallTime to) {
    const Knot last = knots_.back();
    if (to <= last.at) return;
    const double passed = days_between(last.at, to);
    if (t) known += passed;
    knots_.push_back({to, last.warm_days + passed * (t ? pace(*t) : pace_ahead_)});
  };
  for (const TemperatureStep& step : history) {
    pass(std::min(step.from, now));
    if (step.from <= now) t = step.t;
  }
  pass(now);
  if (now > from) known_share_ = known / days_between(from, now);
}

double WarmTime::days_at(WallTime t) const {
  if (t >= knots_.back().at) {
    return knots_.back().warm_days + days_between(knots_.back().at, t) * pace_ahead_;
  }
  const auto after = std::ranges::upper_bound(knots_, t, {}, &Knot::at);
  if (after == knots_.begin()) return 0.0;
  const auto& [t0, w0] = *(after - 1);
  return w0 + (after->warm_days - w0) * days_between(t0, t) / days_between(t0, after->at);
}

std::optional<WallTime> WarmTime::reached(double warm_days) const {
  ENSURE(std::isfinite(warm_days));
  if (warm_days <= 0.0) return knots_.front().at;
  if (warm_days > days_now()) {
    if (pace_ahead_ <= 0.0) return std::nullopt;
    const double on = (warm_days - days_now()) / pace_ahead_;
    return on > kDaysMost ? std::nullopt : std::optional(later(knots_.back().at, on));
  }
  const auto after = std::ranges::lower_bound(knots_, warm_days, {}, &Knot::warm_days);
  if (after == knots_.begin()) return after->at;
  const auto& [t0, w0] = *(after - 1);
  return later(t0, days_between(t0, after->at) * (warm_days - w0) / (after->warm_days - w0));
}

}  // namespace tubwarden
