#include "rehearsal/watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden::rehearsal {
namespace {

/// A timed run ends by its host's clock, to the nanosecond; what the driver adds is not rehearsed.
constexpr Duration kSlack{1};

/// What may be learned, of what is usual; the lag of a humidity sensor in seconds.
constexpr double kLearnedLeast = 0.2;
constexpr double kLearnedMost = 5.0;
constexpr double kUsualLag = 8.0;
constexpr double kErrorMost = 10.0;

/// A single reading further from the one before may be a spike, and need not be acted upon until
/// the next one (common practice, no source; the chamber's own limits are no narrower).
double far_off(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return 15.0;
    case Quantity::air_temperature:
      return 3.0;
    case Quantity::substrate_temperature:
      return 2.0;
    case Quantity::co2:
      return 1000.0;
  }
  ENSURE(false);
}

}  // namespace

Watch::Watch(ChamberPlan chamber, std::vector<TubPlan> tubs, Instant start)
    : plan_(std::move(chamber)), tubs_(std::move(tubs)), start_(start) {
  heard_.resize(plan_.sensors.size());
  for (const ActuatorPlan& a : plan_.actuators) {
    Output output;
    output.level = a.output.safe;
    output.since = output.leased = output.looked = start;
    outputs_.push_back(output);
  }
}

void Watch::reading(std::size_t sensor, Quantity q, double value, bool retained, Instant now) {
  if (retained || !broker_up_) return;
  Heard& h = heard_[sensor][index_of(q)];
  const bool far = h.live && std::fabs(value - h.value) > far_off(q);
  h = {value, far ? h.value : value, now, true};
}

void Watch::gone(std::size_t sensor) {
  for (Heard& h : heard_[sensor]) h.live = false;
}

void Watch::broker(bool up) {
  broker_up_ = up;
  for (std::size_t s = 0; s < heard_.size(); ++s) gone(s);
}

void Watch::restarted(Instant now) {
  for (std::size_t s = 0; s < heard_.size(); ++s) gone(s);
  phase_.clear();
  hands_.clear();
  bands_ = {};
  for (Output& o : outputs_) {
    o.since = now;
    o.starts.clear();
  }
}

void Watch::unreachable(std::size_t actuator, Instant now) {
  outputs_[actuator].excused = true;
  outputs_[actuator].excused_since = now;
}

void Watch::hand(const Hand& hand) {
  std::erase_if(hands_, [&](const Hand& h) { return same_place(h, hand); });
  hands_.push_back(hand);
}

bool Watch::attended(Instant now) const {
  return std::any_of(hands_.begin(), hands_.end(),
                     [&](const Hand& h) { return h.kind == HandKind::attend && now < h.until; });
}

/// A trial stands above a keep-at.
const Hand* Watch::hand_on(std::size_t actuator, Instant now) const {
  const Hand* found = nullptr;
  for (const Hand& h : hands_) {
    if (h.actuator != plan_.actuators[actuator].id || now >= h.until) continue;
    if (found == nullptr || h.kind == HandKind::trial) found = &h;
  }
  return found;
}

void Watch::learned(const MistLearned& told, Instant now) {
  const auto within = [](double value, double usual) {
    return value >= kLearnedLeast * usual && value <= kLearnedMost * usual;
  };
  const auto at = std::find_if(plan_.actuators.begin(), plan_.actuators.end(),
                               [&](const ActuatorPlan& a) { return a.id == told.actuator; });
  ENSURE(at != plan_.actuators.end());
  const AirForecast::Learned& l = told.learned;
  const bool errors = l.share_error >= 0.0 && l.share_error < kErrorMost && l.lag_error >= 0.0 &&
                      l.lag_error < kErrorMost;
  if (within(l.share, 1.0) && within(l.lag_s, kUsualLag) && errors) return;
  say(static_cast<std::size_t>(at - plan_.actuators.begin()),
      fmt::format("is learned to move {:.3f} +- {:.3f} of its rate, by a sensor {:.1f} s late",
                  l.share, l.share_error, l.lag_s),
      now);
}

void Watch::renewed(std::size_t actuator, Instant now) {
  outputs_[actuator].leased = now + plan_.actuators[actuator].output.lease;
}

void Watch::phase(const std::string& tub, const std::string& phase) {
  if (tub == plan_.leader) phase_ = phase;
}

const TubPlan* Watch::leader() const {
  for (const TubPlan& t : tubs_) {
    if (t.id == plan_.leader) return &t;
  }
  return nullptr;
}

const PhasePlan* Watch::phase_plan() const {
  const TubPlan* tub = leader();
  return tub != nullptr && tub->profile ? tub->profile->find(phase_) : nullptr;
}

std::optional<Watch::Span> Watch::fresh(Quantity q, Instant now) const {
  std::optional<Span> span;
  if (!broker_up_) return span;
  for (std::size_t s = 0; s < heard_.size(); ++s) {
    const Heard& h = heard_[s][index_of(q)];
    if (!h.live || now - h.at > plan_.sensors[s].stale_after) continue;
    if (!span) span = Span{h.value, h.value};
    span->low = std::min({span->low, h.value, h.before});
    span->high = std::max({span->high, h.value, h.before});
  }
  return span;
}

bool Watch::ceiling_possible() const {
  return std::any_of(tubs_.begin(), tubs_.end(),
                     [](const TubPlan& t) { return t.substrate_ceiling_c.has_value(); });
}

/// The quantity by which an effect is decided in this phase; nothing where it keeps none.
std::optional<Quantity> Watch::serves(Effect effect) const {
  const PhasePlan* phase = phase_plan();
  if (phase == nullptr) return std::nullopt;
  const auto keeps = [&](Quantity q) { return phase->of(q) && phase->of(q)->keep; };
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return keeps(Quantity::humidity) ? std::optional(Quantity::humidity) : std::nullopt;
    case Effect::heat:
    case Effect::cool:
      if (keeps(Quantity::substrate_temperature)) return Quantity::substrate_temperature;
      if (keeps(Quantity::air_temperature)) return Quantity::air_temperature;
      return std::nullopt;
    case Effect::fresh_air:
    case Effect::stir:
    case Effect::light:
      return std::nullopt;
  }
  ENSURE(false);
}

bool Watch::above(Quantity q, Instant now) const {
  const auto span = fresh(q, now);
  const auto& band = bands_[index_of(q)];
  return span && band && span->high > band->high;
}

bool Watch::below(Quantity q, Instant now) const {
  const auto span = fresh(q, now);
  const auto& band = bands_[index_of(q)];
  return span && band && span->low < band->low;
}

bool Watch::runs(Effect effect) const {
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    if (plan_.actuators[i].effect == effect && outputs_[i].level > kRest) return true;
  }
  return false;
}

/// Whether the rules let this output yield its shortest run just now.
bool Watch::may_cut(std::size_t actuator, Instant now) const {
  const Effect effect = plan_.actuators[actuator].effect;
  if (attended(now)) return true;
  const Hand* hand = hand_on(actuator, now);
  if (hand != nullptr && hand->level == kRest) return effect != Effect::cool;
  if (phase_ == kPhaseEmpty) return effect != Effect::cool;
  switch (effect) {
    case Effect::humidify:
      return above(Quantity::humidity, now);
    case Effect::dehumidify:
      return below(Quantity::humidity, now);
    case Effect::heat: {
      const auto q = serves(effect);
      return (q && above(*q, now)) || ceiling_possible() || runs(Effect::cool);
    }
    case Effect::cool:
      return runs(Effect::heat);
    case Effect::fresh_air: {
      const auto q = serves(Effect::heat);
      return below(Quantity::humidity, now) || (q && (below(*q, now) || above(*q, now)));
    }
    case Effect::stir:
      return false;
    case Effect::light:
      return ceiling_possible();
  }
  ENSURE(false);
}

void Watch::check_start(std::size_t actuator, Instant now) {
  const RunLimits& limits = plan_.actuators[actuator].limits;
  const Output& o = outputs_[actuator];
  const Duration rested = now - o.since;
  if (rested < limits.shortest_rest) {
    say(actuator,
        fmt::format("starts after a rest of {}, shortest is {}", spoken(rested),
                    spoken(limits.shortest_rest)),
        now);
  }
  const auto recent = std::count_if(o.starts.begin(), o.starts.end(),
                                    [&](Instant at) { return now - at < hours(1); });
  if (limits.starts_per_hour > 0 && recent >= limits.starts_per_hour) {
    say(actuator,
        fmt::format("starts for the {}. time within the hour, {} are allowed", recent + 1,
                    limits.starts_per_hour),
        now);
  }
}

void Watch::check_stop(std::size_t actuator, Instant now) {
  const RunLimits& limits = plan_.actuators[actuator].limits;
  const Duration ran = now - outputs_[actuator].since;
  if (ran >= limits.shortest_run || may_cut(actuator, now)) return;
  say(actuator,
      fmt::format("stops after {}, shortest run is {}", spoken(ran), spoken(limits.shortest_run)),
      now);
}

void Watch::output(std::size_t actuator, Level level, Cause cause, Instant now) {
  Output& o = outputs_[actuator];
  const bool was = o.level > kRest;
  const bool is = level > kRest;
  const bool longest = plan_.actuators[actuator].limits.longest_run > Duration{0} &&
                       now - o.since >= plan_.actuators[actuator].limits.longest_run;
  if (cause == Cause::decided && !o.excused) {
    if (is && !was) check_start(actuator, now);
    // A level that is held because it is safe is no run: it has no shortest, and is no start.
    if (was && !is && !longest && !o.by_safe) check_stop(actuator, now);
  }
  // A portion ends by its host, too, and is no shorter than the shortest run.
  if (cause == Cause::run_over && was && !longest && !o.excused) check_stop(actuator, now);
  if (is && !was && cause == Cause::made_safe && o.since == now) {
    o.since = o.began;  // its host ended a run as it was told to be safe: it goes on
  } else if (is != was) {
    if (was) o.began = o.since;
    // One that fell out of reach counts as having stood at its safe level since it was lost.
    o.since = cause == Cause::lost && o.excused ? o.excused_since : now;
    if (is && cause == Cause::decided) {
      std::erase_if(o.starts, [&](Instant at) { return now - at >= hours(1); });
      o.starts.push_back(o.since);
    }
  }
  // What a decision takes over from a safe level begins with it.
  if (cause == Cause::lost || (cause == Cause::decided && o.by_safe)) o.fell = now;
  o.level = level;
  if (cause == Cause::decided || cause == Cause::made_safe) renewed(actuator, now);
  o.by_safe = cause == Cause::made_safe || cause == Cause::lost;
  if (cause == Cause::decided || cause == Cause::made_safe) o.excused = false;
}

void Watch::look_at(std::size_t actuator, Instant now) {
  const ActuatorPlan& plan = plan_.actuators[actuator];
  const Output& o = outputs_[actuator];
  account(actuator, now);
  if (o.excused) return;
  if (attended(now)) {
    if (o.level != kRest && !o.by_safe) say(actuator, "runs with hands in the tub", now);
    return;
  }
  const Hand* hand = hand_on(actuator, now);
  if (hand == nullptr || hand->level == kRest) look_at_ruled(actuator, now);
  const Duration ran = now - std::max(o.since, o.fell);
  if (o.level != kRest && !o.by_safe && plan.limits.longest_run > Duration{0} &&
      ran > plan.limits.longest_run + kSlack) {
    say(actuator,
        fmt::format("has run for {}, longest is {}", spoken(ran), spoken(plan.limits.longest_run)),
        now);
  }
}

/// What no hand holds, the phase and its readings rule.
void Watch::look_at_ruled(std::size_t actuator, Instant now) {
  const ActuatorPlan& plan = plan_.actuators[actuator];
  const Output& o = outputs_[actuator];
  const auto q = serves(plan.effect);
  const auto span = q ? fresh(*q, now) : std::nullopt;
  const bool ceiling =
      (plan.effect == Effect::cool || plan.effect == Effect::heat) && ceiling_possible();
  if (q && !span && !ceiling && plan.blind == BlindRule::duty) {
    look_at_blind(actuator, *q, now);
  } else if (q && !span && !ceiling && o.level != plan.output.safe) {
    say(actuator, fmt::format("is not safe without a fresh reading of {}", word_of(*q)), now);
  }
  if (o.level == kRest || o.by_safe) return;
  if (phase_.empty() && o.level != plan.output.safe) {
    say(actuator, "runs, and the phase is not confirmed", now);
  }
  if (phase_ == kPhaseEmpty && tubs_.size() == 1) {
    const bool holds = plan.effect == Effect::cool && now - o.since <= plan.limits.shortest_run;
    if (!holds) say(actuator, "runs in empty", now);
  }
  // By a doubt of its own it may be blind where a reading is fresh.
  if (span && plan.blind != BlindRule::duty) look_at_edge(actuator, *q, *span, now);
}

/// Raising never runs above high, lowering never below low.
void Watch::look_at_edge(std::size_t actuator, Quantity q, const Span& span, Instant now) {
  const auto& band = bands_[index_of(q)];
  if (!band) return;
  const Effect effect = plan_.actuators[actuator].effect;
  const bool raises = effect == Effect::humidify || effect == Effect::heat;
  if (raises && span.low > band->high) {
    say(actuator,
        fmt::format("raises {} above {:.2f}, at {:.2f}", word_of(q), band->high, span.low), now);
  }
  if (effect == Effect::dehumidify && span.high < band->low) {
    say(actuator,
        fmt::format("lowers {} below {:.2f}, at {:.2f}", word_of(q), band->low, span.high), now);
  }
}

void Watch::look_at_leases(Instant now) {
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    const Output& o = outputs_[i];
    const OutputPlan& output = plan_.actuators[i].output;
    // Out of reach it stands until the will of its client is sent.
    const Instant end = o.excused ? o.excused_since + output.lease : o.leased;
    if (o.level == output.safe || now <= end) continue;
    // A run's end is a rest on loan; without a loan only the safe level is left.
    say(i, fmt::format("stands {} beyond its lease", spoken(now - end)), now);
  }
}

void Watch::look(Instant now) {
  ++looks_;
  for (std::size_t i = 0; i < outputs_.size(); ++i) look_at(i, now);
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    if (plan_.actuators[i].effect != Effect::heat || outputs_[i].level == kRest) continue;
    for (std::size_t j = 0; j < outputs_.size(); ++j) {
      if (plan_.actuators[j].effect != Effect::cool || outputs_[j].level == kRest) continue;
      const bool forced = (outputs_[i].by_safe || outputs_[j].by_safe) || outputs_[i].excused ||
                          outputs_[j].excused;
      if (!forced) say(i, "heats while " + plan_.actuators[j].id + " cools", now);
    }
  }
}

void Watch::say(std::size_t actuator, const std::string& what, Instant now) {
  ++total_;
  if (broken_.size() >= kBrokenMax) return;
  broken_.push_back(
      fmt::format("{:.3f} s: {} {}", seconds_of(now - start_), plan_.actuators[actuator].id, what));
}

}  // namespace tubwarden::rehearsal
