// What the air is expected to do, and the portions of the mister.

#include "core/chamber/portions.hpp"

#include <algorithm>
#include <cmath>

#include "core/air/psychrometrics.hpp"
#include "core/chamber/wish.hpp"

namespace tubwarden {
namespace {

/// A mist is in the air and shows after so long (until learned): release and lag.
constexpr Duration kMistSettles = seconds(10);
constexpr Duration kMistSeen = seconds(20);
constexpr Duration kFanMemory = minutes(5);
/// % RH: above it a sensor may be wet, and mist no longer evaporates.
constexpr double kSaturated = 97.0;
/// A step's own error as noise: 1 / sqrt(12), and a margin.
constexpr double kOfStep = 0.4;
constexpr double kGrowsMost = 1.2;
constexpr Duration kTryAgain = seconds(45);
constexpr int kUnprovedRuns = 4;
constexpr double kUnproved = 0.85;
constexpr double kUnprovedLag = 2.0;
/// What is learned is told for the record when it is known by this, so often at most, and when it
/// has moved by this share.
constexpr double kLearned = 0.15;
constexpr Duration kToldEvery = minutes(10);
constexpr double kWorthTelling = 0.1;
constexpr double kDoubt = 0.15;
constexpr Duration kLongestPlan = minutes(1);
/// Where nothing limits the starts, portions are planned this far apart.
constexpr Duration kLook = seconds(30);
/// The air is looked at again this long after a fan began: its dry air may want mist.
constexpr Duration kFanLook = seconds(1);

double rate_of(const Chamber::State& s, Effect effect) {
  double rate = 0.0;
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    if (s.plan.actuators[i].effect != effect || !s.actuators[i].usable) continue;
    rate += s.plan.actuators[i].rate.value_or(0.0) * s.actuators[i].level / kRun;
  }
  return rate;
}

/// m3/h of all fans that obey, at full level.
double fan_rate(const Chamber::State& s) {
  double rate = 0.0;
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    if (s.plan.actuators[i].effect != Effect::fresh_air || !s.actuators[i].usable) continue;
    rate += s.plan.actuators[i].rate.value_or(0.0);
  }
  return rate;
}

/// % RH: less than this a reading does not tell from noise.
double reading_step(const Chamber::State& s) { return 3.0 * s.portions.humidity.traits().noise; }

double litres_of(const Chamber::State& s) {
  return s.leader() ? s.plan.net_volume.in(s.leader()->phase.phase) : s.plan.net_volume.litres;
}

}  // namespace

double humidity_step(const ChamberPlan& plan) {
  std::optional<double> finest;
  for (const SensorPlan& sensor : plan.sensors) {
    for (const QuantitySource& source : sensor.quantities) {
      if (source.quantity != Quantity::humidity) continue;
      finest = std::min(finest.value_or(1e9), source.step.value_or(0.0));
    }
  }
  return finest.value_or(0.0);
}

ForecastTraits humidity_traits() {
  ForecastTraits t;
  t.lag_s = 8.0;
  t.dead_s = 2.0;
  t.release_s = 8.0;
  t.swing = 2.2;
  t.swing_s = 20.0;
  t.noise = 0.2;
  t.value_most = 102.0;  // fog is in the air before it is gone
  return t;
}

ForecastTraits co2_traits() {
  ForecastTraits t;
  t.lag_s = 45.0;
  t.dead_s = 2.0;
  t.release_s = 0.0;
  t.noise = 10.0;
  t.drift_walk = 0.02;
  t.still_walk = 0.5;
  t.exchange_error = 0.2;
  t.drift_most = 20.0;
  return t;
}

Declined Chamber::State::declined(const ActuatorPlan& actuator) const {
  if (plan.control != Control::portions) return Declined::none;
  if (actuator.rate.value_or(0.0) <= 0.0) return Declined::no_rate;
  if (actuator.effect != Effect::humidify) return Declined::none;
  if (humidity_step(plan) > kCoarsestPct) return Declined::coarse;
  return portions.each_s > kSlowestS ? Declined::slow : Declined::none;
}

bool Chamber::State::by_portions(const ActuatorPlan& actuator) const {
  return plan.control == Control::portions && litres_of(*this) > 0.0 &&
         declined(actuator) == Declined::none;
}

AirDrive Chamber::State::humidity_drive(double m3_per_h, Instant now) const {
  AirDrive drive;
  const auto room_t = room_of(event::RoomQuantity::temperature, now);
  const auto room_rh = room_of(event::RoomQuantity::humidity, now);
  const auto inside = air.usable(Quantity::air_temperature, now);
  const double litres = litres_of(*this);
  if (!room_t || !room_rh || !inside || litres <= 0.0) return drive;
  drive.exchange_per_s = m3_per_h * 1000.0 / litres / 3600.0;
  const double water = humidity_ratio(Celsius{*room_t}, Percent{*room_rh});
  drive.outside = relative_humidity(Celsius{inside->value}, water).value;
  return drive;
}

AirDrive Chamber::State::co2_drive(double m3_per_h, Instant now) const {
  AirDrive drive;
  const double litres = litres_of(*this);
  if (litres <= 0.0) return drive;
  drive.exchange_per_s = m3_per_h * 1000.0 / litres / 3600.0;
  drive.outside = room_of(event::RoomQuantity::co2, now).value_or(kOutdoorCo2Ppm);
  return drive;
}

double Chamber::State::mist_gain(const ActuatorPlan& mister) const {
  const auto inside = of(Quantity::air_temperature).sensed;
  const Celsius t{inside ? inside->value : kMistPriorCelsius};
  return mist_prior(mister.rate.value_or(0.0), Litres{litres_of(*this)}, t);
}

void Chamber::State::follow_air(Instant now) {
  if (plan.control != Control::portions) return;
  const double fan = rate_of(*this, Effect::fresh_air);
  AirDrive humid = humidity_drive(fan, now);
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const ActuatorPlan& a = plan.actuators[i];
    if (a.effect != Effect::humidify || !actuators[i].usable || litres_of(*this) <= 0.0) continue;
    // A mister that seems to give nothing is not counted upon.
    if (portions.watch.suspected()) continue;
    humid.input_per_s += mist_gain(a) * actuators[i].level / kRun;
  }
  const bool own = portions.fan && portions.fan->master == FanMaster::humidity_high;
  const double share = fan > 0.0 && !own ? fan / fan_rate(*this) : 0.0;
  const double fresh = std::exp(-seconds_of(now - portions.followed) / seconds_of(kFanMemory));
  portions.fan_share = share + (portions.fan_share - share) * fresh;
  portions.followed = now;
  portions.humidity.advance(humid, now);
  portions.co2.advance(co2_drive(fan, now), now);
}

void Chamber::State::heed(Quantity q, Instant now) {
  if (plan.control != Control::portions) return;
  if (q != Quantity::humidity && q != Quantity::co2) return;
  const auto sensed = air.usable(q, now);
  if (!sensed) return;
  const bool fan = rate_of(*this, Effect::fresh_air) > 0.0;
  if (q == Quantity::co2) return portions.co2.reading(sensed->value, now, false);
  if (portions.heard && now > *portions.heard) {
    const double gap = std::min(seconds_of(now - *portions.heard), 600.0);
    portions.each_s = portions.each_s > 0.0 ? 0.9 * portions.each_s + 0.1 * gap : gap;
  }
  portions.heard = now;
  ForecastTraits traits = portions.humidity.traits();
  traits.noise = std::max(humidity_traits().noise, kOfStep * humidity_step(plan));
  portions.humidity.traits(traits);
  // Clean windows only: nothing else may have moved the air, and it can still take up water.
  if (fan || sensed->value >= kSaturated) portions.watch.disturbed();
  const bool clean = !fan && sensed->value < kSaturated && !portions.watch.suspected() &&
                     !moves_nothing(Effect::humidify);
  portions.humidity.reading(sensed->value, now, clean);
  const Duration settles = kMistSettles + from_seconds(portions.humidity.lag_s());
  const auto verdict = portions.watch.reading(sensed->value, reading_step(*this), settles, now);
  if (verdict != MistWatch::Verdict::none) heed_portion(verdict, sensed->value);
  if (verdict == MistWatch::Verdict::nothing) {
    portions.humidity.learned(*portions.watch.known_before());
  } else if (verdict == MistWatch::Verdict::moved) {
    portions.proved = portions.humidity.learned();
  } else {
    portions.hold_to_proved();
  }
}

/// What a fan hides from the watch may be an empty tank, and would pass for a weak mister or a slow
/// sensor: away from what was proved the two are believed so far only.
void Portions::hold_to_proved() {
  AirForecast::Learned held = humidity.learned();
  const double share = std::max(held.share, kUnproved * proved.share);
  const double lag_s = std::min(held.lag_s, kUnprovedLag * proved.lag_s);
  if (share == held.share && lag_s == held.lag_s) return;
  held.share = share;
  held.lag_s = lag_s;
  humidity.learned(held);
}

void Chamber::State::take_known(const event::MistKnown& known) {
  const AirForecast::Learned& l = known.learned;
  for (const double figure : {l.share, l.share_error, l.lag_s, l.lag_error}) {
    if (!std::isfinite(figure) || figure <= 0.0) return;
  }
  for (const ActuatorPlan& a : plan.actuators) {
    if (a.id != known.actuator || a.effect != Effect::humidify) continue;
    // Known from before is never quite known: scale and water may have changed meanwhile.
    portions.humidity.learned(
        {l.share, std::max(l.share_error, kDoubt), l.lag_s, std::max(l.lag_error, kDoubt)});
    portions.told = portions.humidity.learned();
    portions.proved = portions.told;
  }
}

void Chamber::State::tell_learned(Effects& effects, Instant now) {
  if (plan.control != Control::portions || !portions.humidity.known()) return;
  if (portions.watch.suspected() || now < portions.told_at + kToldEvery) return;
  const AirForecast::Learned l = portions.humidity.learned();
  const AirForecast::Learned& told = portions.told;
  if (l.share_error > kLearned || (std::fabs(l.share - told.share) <= kWorthTelling * told.share &&
                                   std::fabs(l.lag_s - told.lag_s) <= kWorthTelling * told.lag_s)) {
    return;
  }
  for (const ActuatorPlan& a : plan.actuators) {
    if (a.effect != Effect::humidify || !by_portions(a)) continue;
    effects.learned.push_back({a.id, l});
    portions.told = l;
    portions.told_at = now;
  }
}

namespace {

/// What the air does until a mist begun now has settled, and until the next one could have.
struct Foreseen {
  MistAsk ask;
  double share = 1.0;  ///< of the nominal gain, to dose by
  Duration wait{0};    ///< from the end of the last mist to the next
};

Foreseen foresee(const Chamber::State& s, const ActuatorPlan& mister, const ActuatorState& state,
                 const KeptBand& kept, Instant now) {
  const Portions& p = s.portions;
  const double fan = rate_of(s, Effect::fresh_air);
  const AirDrive drive = s.humidity_drive(fan, now);
  const Duration fan_left = fan > 0.0 && p.fan && p.fan->until > now ? p.fan->until - now
                            : fan > 0.0                              ? kLook
                                                                     : Duration{0};
  Foreseen f;
  f.ask.now = p.humidity.value();
  f.ask.settled = p.humidity.ahead(kMistSettles, drive, fan_left);
  // Far below, or against a fan, the last mist need not have shown: it is accounted for.
  const bool waits = fan <= 0.0 && f.ask.settled >= kept.band.low;
  f.wait = std::max({pace(mister.limits, state.gate.starts_last_hour(now)),
                     mister.limits.shortest_rest, waits ? kMistSeen : Duration{0}});
  // One that may give nothing is tried again when the last try has shown.
  if (p.watch.doubted()) f.wait = std::max(f.wait, kTryAgain);
  const Duration next = kMistSettles + std::clamp(f.wait, kMistSeen, kLongestPlan);
  // Further ahead than the run under way the fan goes on as it did of late.
  const AirDrive usual = s.humidity_drive(fan_rate(s) * p.fan_share, now);
  f.ask.next = p.humidity.ahead(next, drive, fan_left, usual);
  const double dried = p.humidity.ahead(std::clamp(fan_left, kMistSettles, next), drive, fan_left);
  f.ask.lowest = std::min({f.ask.settled, dried, f.ask.next});
  f.ask.highest = std::max({f.ask.settled, dried, f.ask.next});
  // A portion shrinks at once when mist gives more than thought, and grows a step at a time.
  f.share = std::max(p.humidity.input_share(), p.dosed_by / kGrowsMost);
  // One that moves nothing is no reason for a longer one.
  if (s.moves_nothing(Effect::humidify)) f.share = std::max(f.share, p.dosed_by);
  const double gain = s.mist_gain(mister) * f.share;
  f.ask.gain = gain * p.humidity.response(kMistSettles);
  f.ask.gain_next = gain * p.humidity.response(next);
  // A fan that runs because the air is too wet is no disturbance.
  f.ask.fed_forward = fan > 0.0 && !(p.fan && p.fan->master == FanMaster::humidity_high);
  return f;
}

/// A portion begins: it is planned, and watched.
void dose(Chamber::State& s, const Portion& portion, const MistAsk& ask, const ActuatorPlan& mister,
          double reading, Wish& wish, Instant now) {
  Portions& p = s.portions;
  Duration run = portion.run;
  if (p.watch.suspected()) {
    const Duration most = p.watch.longest_tried(ask.gain_next, reading_step(s));
    run = std::min(run, std::max(most, mister.limits.shortest_run));
  }
  if (p.watch.unproved() >= kUnprovedRuns) {
    // The drift may be nothing but mist that did not come: by the reading alone, then.
    const double dries = ask.fed_forward ? std::max(0.0, ask.now - ask.lowest) : 0.0;
    const double room = s.of(Quantity::humidity).kept->band.high - reading + dries;
    run = std::min(run, from_seconds(std::max(room, 0.0) / ask.gain));
    run = std::max(run, mister.limits.shortest_run);
  }
  p.mist = PlannedRun{now, now + run, wish.reason.start, portion.aim, {}, {}};
  p.mist->dose = DoseReason{run, 1.0 / ask.gain_next, portion.aim, ask.fed_forward};
  p.watch.begin(ask.gain_next * seconds_of(run), reading, p.humidity.drift(), p.humidity.learned(),
                run, now);
  if (rate_of(s, Effect::fresh_air) > 0.0) p.watch.disturbed();
  wish.run = true;
  wish.run_until = p.mist->until;
  wish.reason.dose = p.mist->dose;
  wish.reason.why = Why::called;
}

}  // namespace

Wish mist_wish(Chamber::State& s, const ActuatorPlan& mister, const ActuatorState& state,
               Effects& effects, Instant now) {
  constexpr Quantity q = Quantity::humidity;
  const QuantityState& humid = s.of(q);
  if (!humid.kept || !humid.kept->raises) return resting(Why::not_kept);
  if (!humid.sensed || !s.portions.humidity.known()) return safely(Why::no_reading, q);
  const KeptBand& kept = *humid.kept;
  Wish wish = resting(Why::between_starts);
  wish.cuts = humid.sensed->value > kept.band.high;
  wish.reason.quantity = q;
  wish.reason.value = humid.sensed->value;
  wish.reason.start = kept.raise_start();
  wish.reason.stop = kept.band.middle();
  Portions& p = s.portions;
  if (p.mist && state.gate.running()) {
    if (now < p.mist->until && !wish.cuts) {
      wish.run = true;
      wish.reason.dose = p.mist->dose;
      wish.run_until = p.mist->until;
      wish.reason.why = Why::called;
    }
    return wish;
  }
  p.mist.reset();
  if (s.runs_anywhere(Effect::humidify) || wish.cuts) return wish;
  const Foreseen f = foresee(s, mister, state, kept, now);
  // A start that the limits or the last mist do not allow yet is not planned either.
  if (s.last_mist_end && now < *s.last_mist_end + f.wait) {
    wish.reason.settles = *s.last_mist_end + f.wait;
    wake_by(effects, wish.reason.settles, now);
    return wish;
  }
  if (f.ask.fed_forward) wake_by(effects, now + kFanLook, now);
  const auto portion = mist_portion(f.ask, kept, mister.limits);
  if (!portion && p.humidity.drift() < 0.0) {
    // Between two readings the air may fall to the start point: it is looked at again then.
    const double s_until = (f.ask.settled - kept.raise_start()) / -p.humidity.drift();
    if (s_until < seconds_of(kLook)) {
      wake_by(effects, now + from_seconds(std::max(1.0, s_until)), now);
    }
  }
  if (portion) {
    p.dosed_by = f.share;
    dose(s, *portion, f.ask, mister, humid.sensed->value, wish, now);
  }
  return wish;
}

}  // namespace tubwarden
