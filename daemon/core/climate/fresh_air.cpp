#include "core/climate/fresh_air.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(FanMaster master) {
  switch (master) {
    case FanMaster::ceiling:
      return "substrate ceiling";
    case FanMaster::co2:
      return "CO2";
    case FanMaster::humidity_high:
      return "high humidity";
    case FanMaster::temperature:
      return "temperature";
    case FanMaster::floor:
      return "fresh-air floor";
  }
  ENSURE(false);
}

std::span<const FanMaster> fan_order(const std::string& phase) {
  static constexpr FanMaster growing[] = {FanMaster::ceiling, FanMaster::temperature,
                                          FanMaster::humidity_high, FanMaster::floor};
  static constexpr FanMaster cropping[] = {FanMaster::ceiling, FanMaster::co2,
                                           FanMaster::humidity_high, FanMaster::temperature,
                                           FanMaster::floor};
  if (phase == kPhaseGrain || phase == kPhaseColonization || phase == kPhaseCasing) return growing;
  return cropping;
}

FanDecision decide_fan(std::span<const FanMaster> order, const FanSays& says) {
  for (FanMaster master : order) {
    switch (says[static_cast<std::size_t>(master)]) {
      case Say::silent:
        break;
      case Say::calls:
        return {true, master};
      case Say::forbids:
        return {false, master};
    }
  }
  return {};
}

Duration floor_run(double changes, double litres, double m3_per_hour) {
  ENSURE(litres > 0.0 && m3_per_hour > 0.0);
  return from_seconds(changes * (litres / 1000.0) / m3_per_hour * 3600.0);
}

void FloorClock::begin(Instant first, Instant now) {
  window_ = first;
  told_ = now;
  moved_x1000_ = Duration{0};
}

void FloorClock::moved(Level level, Instant now) {
  moved_x1000_ += (now - told_) * static_cast<std::int64_t>(level);
  told_ = now;
}

void FloorClock::roll(Duration every, Instant now) {
  if (now < window_ + every) return;
  const auto windows = (now - window_) / every;
  window_ += windows * every;
  moved_x1000_ = Duration{0};
}

FloorClock::Need FloorClock::ask(Duration run, Duration every, Instant now) {
  ENSURE(every > Duration{0});
  roll(every, now);
  const Instant end = window_ + every;
  const Duration left = std::max(Duration{0}, run - moved_x1000_ / kRun);
  const Instant latest_start = end - left;
  const bool calls = left > Duration{0} && now >= latest_start;
  // While it calls and the fan runs, the debt shrinks as fast as the window does.
  return {calls, left, calls || left == Duration{0} ? end : latest_start};
}

Duration FloorClock::owed_evenly(Duration run, Duration every, Instant now) {
  ENSURE(every > Duration{0});
  roll(every, now);
  const double share = seconds_of(now - window_) / seconds_of(every);
  return std::max(Duration{0}, from_seconds(seconds_of(run) * share) - moved_x1000_ / kRun);
}

}  // namespace tubwarden
