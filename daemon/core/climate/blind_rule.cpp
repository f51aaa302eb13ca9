#include "core/climate/blind_rule.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

/// Runs are spread over periods of at least this: heat is slow, mist and air are not (common
/// practice, no source).
Duration period_least(Effect effect) {
  switch (effect) {
    case Effect::heat:
    case Effect::cool:
    case Effect::dehumidify:
      return minutes(10);
    case Effect::humidify:
    case Effect::fresh_air:
    case Effect::stir:
    case Effect::light:
      return minutes(1);
  }
  ENSURE(false);
}

constexpr Duration kRunLeast = milliseconds(100);

}  // namespace

void DutyBook::add(Duration passed, Level level, bool counts) {
  if (passed <= Duration{0}) return;
  const double share = static_cast<double>(level) / kRun;
  ran_ += from_seconds(share * seconds_of(passed));
  while (counts && passed > Duration{0}) {
    Hour& hour = hours_[newest_];
    const Duration part = std::min(passed, Duration(hours(1)) - hour.watched);
    hour.watched += part;
    hour.ran += from_seconds(share * seconds_of(part));
    passed -= part;
    if (hour.watched < hours(1)) return;
    newest_ = (newest_ + 1) % kHours;
    hours_[newest_] = {};
  }
}

std::optional<double> DutyBook::share() const {
  Duration ran{0}, watched{0};
  for (const Hour& hour : hours_) {
    ran += hour.ran;
    watched += hour.watched;
  }
  if (watched < kBlindLearnedFrom) return known_;
  return seconds_of(ran) / seconds_of(watched);
}

double blind_share(Effect effect, double learned) {
  const bool water = effect == Effect::humidify || effect == Effect::dehumidify;
  return std::min(water ? kBlindWaterShare * learned : learned, kBlindShareMost);
}

std::optional<Duration> blind_run(Effect effect, const RunLimits& limits, double share) {
  if (share <= 0.0) return std::nullopt;
  double period_s = seconds_of(period_least(effect));
  if (limits.starts_per_hour > 0) period_s = std::max(period_s, 3600.0 / limits.starts_per_hour);
  const Duration run = std::max({from_seconds(share * period_s), limits.shortest_run, kRunLeast});
  if (from_seconds(seconds_of(run) / share) > kBlindPeriodMost) return std::nullopt;
  if (limits.longest_run <= Duration{0}) return run;
  return std::min(run, limits.longest_run);
}

BlindAsk ask_blind(const BlindSpell& spell, Duration run, Duration ran, Instant now) {
  const Duration due = ran - spell.ran_before + run;
  const Instant next = spell.from + from_seconds(seconds_of(due) / spell.share) + Duration{1};
  return {now >= next, next};
}

}  // namespace tubwarden
