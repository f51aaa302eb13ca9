// Portions of the fan: short runs that take out CO2 or water and dry the air no more than needed.

#include <algorithm>

#include "core/chamber/fan_talk.hpp"

namespace tubwarden {
namespace {

/// Nobody would feel a fan of shorter runs; where no limit says otherwise.
constexpr Duration kShortestFan = seconds(5);
constexpr Duration kLongestFan = minutes(2);
/// A CO2 run begins this share of the band below its limit.
/// ... and no fewer standard errors of what is known.
constexpr double kCo2Sure = 2.0;
constexpr double kCo2Margin = 1.0 / 12.0;
/// What a mist still adds shows within this.
constexpr Duration kMistShows = seconds(40);
constexpr Duration kNearestLook = seconds(1);
constexpr Duration kFarthestLook = minutes(2);
/// So many portions of the floor may be late before one runs without its mist.
constexpr int kFloorPatience = 3;
constexpr Duration kSoon = seconds(5);

/// The time from start to start that the limits allow in the long run.
Duration period(const RunLimits& limits) {
  Duration each = std::max(limits.shortest_run, kShortestFan) + limits.shortest_rest;
  if (limits.starts_per_hour > 0) {
    each = std::max(each, from_seconds(3600.0 / limits.starts_per_hour));
  }
  return each;
}

Duration within(const RunLimits& limits, Duration run) {
  run = std::max({std::min(run, kLongestFan), limits.shortest_run, kShortestFan});
  if (limits.longest_run > Duration{0}) run = std::min(run, limits.longest_run);
  return run;
}

/// Whether the air would still be in its band after a run of the fan, or mist could follow at once.
bool mist_ready(const Chamber::State& s, const FanTalk& talk, Duration run, Instant now) {
  const QuantityState& state = s.of(Quantity::humidity);
  if (!state.kept || !state.kept->raises || !s.portions.humidity.known()) return true;
  const AirDrive drive = s.humidity_drive(*talk.fan.rate, now);
  if (s.portions.humidity.ahead(run, drive, run) > state.kept->raise_start()) return true;
  bool any = false;
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    const ActuatorPlan& a = s.plan.actuators[i];
    const ActuatorState& mister = s.actuators[i];
    if (a.effect != Effect::humidify || !mister.usable) continue;
    any = true;
    const Duration rest =
        std::max(a.limits.shortest_rest, pace(a.limits, mister.gate.starts_last_hour(now)));
    if (mister.gate.running() || now >= mister.gate.since() + rest) return true;
  }
  return !any;
}

/// Whether starts must still be saved up.
bool paced(const FanTalk& talk, Instant now) {
  if (talk.state.gate.running()) return false;
  return now <
         talk.state.gate.since() + pace(talk.fan.limits, talk.state.gate.starts_last_hour(now));
}

/// Between two readings the air may reach a start point: it is looked at again then.
void wake_at(FanTalk& talk, double short_of, double drift, Instant now) {
  if (drift <= 0.0 || short_of > drift * seconds_of(kFarthestLook)) return;
  const Instant at = now + std::max(kNearestLook, from_seconds(short_of / drift));
  talk.wake = talk.wake ? std::min(*talk.wake, at) : at;
}

bool goes_on(const Chamber::State& s, FanTalk& talk, FanMaster master, Reason reason, Instant now) {
  const auto& fan = s.portions.fan;
  if (!fan || fan->master != master || now >= fan->until) return false;
  reason.start = fan->start;
  reason.stop = fan->aim;
  talk.say(master, Say::calls, reason);
  talk.plan(master, *fan);
  return true;
}

void begin(FanTalk& talk, FanMaster master, Duration run, Reason reason, double aim, Instant now) {
  reason.stop = aim;
  talk.say(master, Say::calls, reason);
  talk.plan(master,
            PlannedRun{now, now + within(talk.fan.limits, run), reason.start, aim, master, {}});
}

}  // namespace

double co2_start(const Band& band) { return band.high - kCo2Margin * band.width(); }

void ask_co2_portion(const Chamber::State& s, FanTalk& talk, Instant now) {
  const QuantityState& state = s.of(Quantity::co2);
  if (!state.kept || !state.kept->lowers || !judged(s, talk, Quantity::co2)) return;
  const AirForecast& air = s.portions.co2;
  if (!air.known()) return;
  Reason reason = lowering(s, Quantity::co2);
  reason.start = co2_start(state.kept->band);
  if (goes_on(s, talk, FanMaster::co2, reason, now)) return;
  const Band& band = state.kept->band;
  const AirDrive drive = s.co2_drive(*talk.fan.rate, now);
  // The less is known, the sooner; never below half of the band.
  const double start =
      std::clamp(band.high - kCo2Sure * air.error(), band.middle(), co2_start(band));
  const double value = air.value();
  if (value < start) return wake_at(talk, start - value, air.drift(), now);
  if (value < band.high && paced(talk, now)) return;
  const Duration each = period(talk.fan.limits);
  const double rises = std::max(0.0, air.drift());
  // The shortest run after which the air is back at the start point when the next may begin.
  Duration run = talk.fan.limits.shortest_run;
  double aim = start;
  for (; run < kLongestFan; run += seconds(1)) {
    aim = air.ahead(run, drive, run);
    if (aim + rises * std::max(0.0, seconds_of(each - run)) <= start) break;
  }
  begin(talk, FanMaster::co2, run, reason, aim, now);
}

void ask_humidity_portion(const Chamber::State& s, FanTalk& talk, Instant now) {
  const QuantityState& state = s.of(Quantity::humidity);
  if (!state.kept || !state.kept->lowers) return;
  const AirDrive drive = s.humidity_drive(*talk.fan.rate, now);
  const bool room_known = s.room_of(event::RoomQuantity::temperature, now) &&
                          s.room_of(event::RoomQuantity::humidity, now);
  if (room_known && !judged(s, talk, Quantity::humidity)) return;
  if (!state.sensed || !s.portions.humidity.known()) return;
  Reason reason = lowering(s, Quantity::humidity);
  const bool high = state.sensed->value > state.kept->lower_start();
  if (!room_known || !judged(s, talk, Quantity::air_temperature)) {
    if (high) talk.wait(Why::fan_room_blind, reason);
    return;
  }
  if (goes_on(s, talk, FanMaster::humidity_high, reason, now)) return;
  if (s.runs_anywhere(Effect::humidify)) return;
  const AirForecast& air = s.portions.humidity;
  const double value = air.ahead(kSoon, {}, Duration{0});
  const Band& band = state.kept->band;
  const double a = drive.exchange_per_s;
  const double falls = a * (value - drive.outside) - air.drift();
  if (drive.outside >= value || falls <= 0.0) {
    if (high) talk.wait(Why::fan_no_help, reason);
    return;
  }
  // The saw's height: what the shortest run takes, or what the air gains between two runs.
  const Duration shortest = within(talk.fan.limits, Duration{0});
  const double gained =
      std::max(0.0, air.drift()) * std::max(0.0, seconds_of(period(talk.fan.limits) - shortest));
  const double height = std::clamp(std::max(falls * seconds_of(shortest), gained),
                                   0.25 * band.width(), 0.8 * band.width());
  const double short_of = band.middle() + height / 2.0 - value;
  if (short_of > 0.0) return wake_at(talk, short_of, air.drift(), now);
  if (state.sensed->value < band.middle()) return;
  if (s.last_mist_end && now < *s.last_mist_end + kMistShows) {
    talk.wake = *s.last_mist_end + kMistShows;
    return;
  }
  if (value < band.high && paced(talk, now)) return;
  const double aim = band.middle() - height / 2.0;
  reason.start = band.middle() + height / 2.0;
  const auto run = exchange_time(value, aim, drive.outside, a, air.drift());
  begin(talk, FanMaster::humidity_high, run.value_or(kLongestFan), reason, aim, now);
}

bool floor_portion(Chamber::State& s, FanTalk& talk, Duration run, Duration every,
                   const FloorClock::Need& need, Instant now) {
  Reason reason;
  reason.owed = need.left;
  reason.until = need.next_change;
  if (need.calls) return true;  // the window ends
  if (goes_on(s, talk, FanMaster::floor, reason, now)) return true;
  // Half of the starts are left to the other masters.
  double portions = seconds_of(run) / seconds_of(within(talk.fan.limits, Duration{0}));
  if (talk.fan.limits.starts_per_hour > 0) {
    portions = std::min(portions, talk.fan.limits.starts_per_hour * seconds_of(every) / 7200.0);
  }
  const Duration portion = from_seconds(seconds_of(run) / std::max(1.0, portions));
  const Duration owed = s.floor.owed_evenly(run, every, now);
  if (owed < portion) {
    const double rate = seconds_of(run) / seconds_of(every);
    const Instant due = now + from_seconds(seconds_of(portion - owed) / rate) + milliseconds(1);
    talk.wake = talk.wake ? std::min(*talk.wake, due) : due;
    return false;
  }
  // It waits for its partner: dry air is let in when mist can meet it, or when it is wanted.
  if (owed < kFloorPatience * portion && !mist_ready(s, talk, portion, now)) {
    const Duration look = seconds(1);
    talk.wake = talk.wake ? std::min(*talk.wake, now + look) : now + look;
    return false;
  }
  begin(talk, FanMaster::floor, portion, reason, 0.0, now);
  return true;
}

}  // namespace tubwarden
