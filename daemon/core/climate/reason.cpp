#include "core/climate/reason.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/climate/blind_rule.hpp"

namespace tubwarden {
namespace {

std::string amount(double value, Quantity q) {
  return fmt::format("{} {}", trimmed(value, q == Quantity::co2 ? 0 : 2), unit_of(q));
}

std::string state(const ActuatorPlan& plan, Level level, Instant since, Instant now) {
  const std::string safe_level = trimmed(plan.output.safe / 10.0, 1);
  if (now - since < seconds(1)) {
    if (level == kRest) return "came to rest just now";
    if (level == kRun) return "started just now";
    return fmt::format("went to its safe {} % just now", safe_level);
  }
  const std::string stood = spoken(now - since);
  if (level == kRest) return fmt::format("resting for {}", stood);
  if (level == kRun) return fmt::format("running for {}", stood);
  return fmt::format("at its safe {} % for {}", safe_level, stood);
}

bool ahead(std::optional<Instant> at, Instant now) { return at && *at > now; }

std::string left(std::optional<Instant> until, Instant now) {
  return ahead(until, now) ? fmt::format(" for another {}", spoken(*until - now)) : "";
}

std::string reading(const Reason& r) {
  const Quantity q = r.quantity.value_or(Quantity::substrate_temperature);
  if (r.by_air) {
    return fmt::format("the substrate may be at {} by its air (it has no live sensor of its own)",
                       amount(r.value, q));
  }
  return fmt::format("{} is {}", word_of(q), amount(r.value, q));
}

/// Whether a run of this effect starts when the reading is under its start point.
bool raises(Effect effect) { return effect == Effect::humidify || effect == Effect::heat; }

std::string_view declined(Declined why) {
  switch (why) {
    case Declined::none:
      return "";
    case Declined::no_rate:
      return " (no portions: its rate is not known)";
    case Declined::coarse:
      return " (no portions: its sensor's step is more than 2 %)";
    case Declined::slow:
      return " (no portions: its readings are more than 60s apart)";
  }
  ENSURE(false);
}

std::string dose(const Reason& r) {
  return fmt::format("{}; {}s of mist, {}s for each 1 %, aimed at {}{}", reading(r),
                     trimmed(seconds_of(r.dose->run), 1), trimmed(r.dose->seconds_each, 1),
                     amount(r.dose->aim, *r.quantity),
                     r.dose->fed_forward ? ", against the fan's dry air" : "");
}

/// "17 % of each 20m: substrate temperature is 23.1 C, 0.9 C below the middle of its band"
std::string duty(const Reason& r) {
  const double off = r.value - r.stop;
  const std::string stands =
      std::fabs(off) < 0.05
          ? "at the middle of its band"
          : fmt::format("{} {} the middle of its band", amount(std::fabs(off), *r.quantity),
                        off < 0.0 ? "below" : "above");
  return fmt::format("{} % of each {}: {}, {}{}", trimmed(100.0 * r.duty->share, 0),
                     spoken(r.duty->period), reading(r), stands,
                     r.duty->past
                         ? fmt::format("; nothing is given {} {}", off < 0.0 ? "below" : "above",
                                       amount(r.start, *r.quantity))
                         : "");
}

std::string reading_and_rule(const Reason& r, Effect effect) {
  if (r.duty) return duty(r);
  return fmt::format("{}; it starts {} {} and stops at {}", reading(r),
                     raises(effect) ? "below" : "above", amount(r.start, *r.quantity),
                     amount(r.stop, *r.quantity));
}

std::string portioned(const Reason& r, Effect effect, Instant now) {
  if (r.dose) return dose(r);
  if (r.duty) {
    const bool runs = r.why == Why::called;
    const std::string next = ahead(r.until, now) ? spoken(*r.until - now) : "";
    return next.empty()
               ? duty(r)
               : fmt::format("{}; {} {}", duty(r),
                             runs ? "this share ends in" : "the next share comes in", next);
  }
  const std::string settling =
      ahead(r.settles, now)
          ? fmt::format("; the last mist settles for another {}", spoken(*r.settles - now))
          : "";
  return reading_and_rule(r, effect) + std::string(declined(r.declined)) + settling;
}

std::string ceiling_rule(const Reason& r, const char* does) {
  constexpr Quantity q = Quantity::substrate_temperature;
  return fmt::format("the substrate ceiling of {} {}; {}, and it lets go at {}", amount(r.start, q),
                     does, reading(r), amount(r.stop, q));
}

std::string dew(const Reason& r) {
  return fmt::format("the {} {} C, and the air's dew point {} C",
                     r.dew->lid ? "lid is reckoned to have" : "bed has",
                     trimmed(r.dew->surface_c, 1), trimmed(r.dew->dew_point_c, 1));
}

std::string dew_held(const Reason& r) {
  return fmt::format(
      "{}: mist would only wet it; it waits until that is half a degree apart{}", dew(r),
      r.dew->lid ? fmt::format(", or humidity below {}", amount(r.start, *r.quantity)) : "");
}

std::string drying(const Reason& r, Instant now) {
  return fmt::format("the surfaces dry after the watering, for another {} at most",
                     spoken(*r.dries_until - now));
}

std::string fan_called(const Reason& r, Instant now) {
  if (r.dries_until) return drying(r, now);
  if (r.dew) return fmt::format("{}: the room's drier air is to dry it", dew(r));
  switch (*r.master) {
    case FanMaster::floor:
      return fmt::format("the fresh-air floor is owed {} of fan{}", spoken(r.owed),
                         ahead(r.until, now)
                             ? fmt::format(", and its window ends in {}", spoken(*r.until - now))
                             : "");
    case FanMaster::ceiling:
      return ceiling_rule(r, "calls for cooler air");
    case FanMaster::co2:
    case FanMaster::humidity_high:
    case FanMaster::temperature:
      return reading_and_rule(r, Effect::fresh_air);
  }
  ENSURE(false);
}

/// Forbidden up to a quarter of the band inside its edge (`start`); `stop` is the middle.
std::string fan_forbidden(const Reason& r) {
  const bool colder = r.value < r.stop;
  const std::string freed = amount((r.start + r.stop) / 2.0, *r.quantity);
  return fmt::format(
      "{}, and the room's air would push it {} {}; it may run {} {}, or with a {} room", reading(r),
      colder ? "below" : "above", amount(r.start, *r.quantity), colder ? "above" : "below", freed,
      colder ? "warmer" : "cooler");
}

const char* better(const Reason& r) {
  return r.quantity == Quantity::humidity ? "drier" : "cooler";
}

std::string fan_idle(const Reason& r, Instant now) {
  std::string idle = "nothing asks for fresh air";
  if (r.quantity) {
    idle += fmt::format(": {}, and it starts above {}", reading(r), amount(r.start, *r.quantity));
    if (r.quantity != Quantity::co2) idle += fmt::format(" if the room's air is {}", better(r));
  }
  if (!ahead(r.until, now)) return idle;
  const std::string in = spoken(*r.until - now);
  if (r.owed > Duration{0}) {
    return fmt::format("{}; its floor starts it in {} at the latest", idle, in);
  }
  return fmt::format("{}; its floor is met for another {}", idle, in);
}

/// A quantity is too high, or was and is not back yet, and what keeps the fan from it.
std::string fan_waits(const Reason& r, const std::string& but) {
  const std::string start = amount(r.start, *r.quantity);
  if (r.value > r.start) return fmt::format("{}, above {}, but {}", reading(r), start, but);
  return fmt::format("{}, was above {} and is not yet at {}, but {}", reading(r), start,
                     amount(r.stop, *r.quantity), but);
}

std::string phase_command(const Led& led) {
  return fmt::format("`tubwarden phase {} PHASE`", led.tub.empty() ? "TUB" : led.tub);
}

std::string not_kept(const Led& led, Effect effect) {
  const std::string phase = led.phase.empty() ? "this phase" : "phase " + led.phase;
  if (!led.profile) return phase + " asks nothing of it";
  std::vector<std::string_view> asking;
  for (const PhasePlan& other : led.profile->phases) {
    if (other.name != led.phase && asks_for(other, effect)) asking.push_back(other.name);
  }
  if (asking.empty()) return phase + " asks nothing of it, nor does another of its profile";
  return fmt::format("{} asks nothing of it; {} would", phase, fmt::join(asking, " or "));
}

std::string unoccupied(const ActuatorPlan& plan) {
  return fmt::format(
      "safe, because nobody stands in this air; `tubwarden move TUB {}` brings a tub here",
      plan.output.id.chamber);
}

std::string not_led(const ActuatorPlan& plan) {
  return fmt::format(
      "safe, because several stand in this air and none of them leads; name the leader in "
      "chambers/{}.yaml",
      plan.output.id.chamber);
}

std::string_view blind_word(const Reason& r) { return r.quantity ? word_of(*r.quantity) : "air"; }

std::string blind_duty(const Reason& r, Instant now) {
  const std::string next =
      ahead(r.until, now) ? fmt::format("; its next run is in {}", spoken(*r.until - now)) : "";
  return fmt::format(
      "blind, without a live {} reading for {}: it runs for {} % of the time, of the {} % of its "
      "last day{}",
      blind_word(r), spoken(now - r.since.value_or(now)), trimmed(r.value, 1), trimmed(r.start, 1),
      next);
}

std::string without_reading(const Reason& r, Instant now) {
  const std::string safe = fmt::format("safe until a live {} reading comes", blind_word(r));
  if (r.why == Why::no_reading) return safe;
  if (r.why == Why::blind_duty) return blind_duty(r, now);
  if (r.why == Why::blind_over) {
    return fmt::format("{}: blind for {}, and it repeats its last day for {} at most", safe,
                       spoken(now - r.since.value_or(now)), spoken(kBlindLongest));
  }
  if (r.why == Why::blind_unwatched) {
    return safe +
           ": it has no cut-out, and no live temperature under a substrate ceiling says how warm "
           "it gets";
  }
  return safe + (r.value < 0.0 ? ": it was not watched for long enough to know its share of a day"
                               : ": in the last day it ran too little to repeat");
}

std::string room_blind(const Reason& r) {
  return fmt::format(
      "whether the room's air is {} is not known; see `room:` in tubwarden.yaml and the live "
      "readings",
      better(r));
}

std::string opposed_words(const Reason& r, Effect effect, Instant now) {
  return fmt::format("{}, but {} still runs, and the two never run together",
                     r.since      ? blind_duty(r, now)
                     : r.quantity ? reading_and_rule(r, effect)
                                  : "a hand would run it",
                     effect == Effect::heat ? "cooling" : "heating");
}

std::string light_hours(const Reason& r, Instant now) {
  return (r.why == Why::light_on ? "within its hours" : "outside its hours") + left(r.until, now);
}

std::string rule(const Reason& r, const ActuatorPlan& plan, Instant now,
                 const std::string& unusable, const Led& led) {
  switch (r.why) {
    case Why::nobody_here:
      return unoccupied(plan);
    case Why::not_led:
      return not_led(plan);
    case Why::not_confirmed:
      return "safe until somebody confirms the phase with " + phase_command(led);
    case Why::phase_unknown:
      return "safe, because the profile does not know the recorded phase; name one it knows with " +
             phase_command(led) + ", or add it to the profile";
    case Why::phase_empty:
      return "the phase is empty and controls nothing; another begins with " + phase_command(led);
    case Why::not_kept:
      return not_kept(led, plan.effect);
    case Why::no_reading:
    case Why::blind_duty:
    case Why::blind_unlearned:
    case Why::blind_over:
    case Why::blind_unwatched:
      return without_reading(r, now);
    case Why::dew_held:
    case Why::drying:
      return r.dries_until ? drying(r, now) : dew_held(r);
    case Why::between_starts:
    case Why::called:
      return portioned(r, plan.effect, now);
    case Why::opposed:
      return opposed_words(r, plan.effect, now);
    case Why::ceiling_locked:
    case Why::ceiling_called:
      return ceiling_rule(r, r.why == Why::ceiling_called ? "calls it" : "locks it off");
    case Why::fan_called:
      return fan_called(r, now);
    case Why::fan_forbidden:
      return fan_forbidden(r);
    case Why::fan_idle:
      return fan_idle(r, now);
    case Why::fan_coasting:
      return fan_waits(r, "the last mist settles first" + left(r.until, now));
    case Why::fan_no_help:
      return fan_waits(r, fmt::format("the room's air is no {}", better(r)));
    case Why::fan_room_blind:
      return fan_waits(r, room_blind(r));
    case Why::light_on:
    case Why::light_off:
      return light_hours(r, now);
    case Why::clock_unset:
      return "safe, because the clock is not set and its hours are not known";
    case Why::stir_with:
      return "it stirs while the air is humidified, dried, heated or cooled";
    case Why::stir_idle:
      return "it stirs only while the air is humidified, dried, heated or cooled";
    case Why::attended:
      return "hands are in the tub" + left(r.until, now);
    case Why::held_resting:
    case Why::held_running:
      return (r.why == Why::held_resting ? "kept at rest by hand" : "kept running by hand") +
             left(r.until, now);
    case Why::hand_blind:
      return "safe, because a hand would keep it running and no live temperature says how warm it "
             "gets";
    case Why::tried:
      return "tried by hand" + left(r.until, now);
    case Why::unusable:
      return unusable.empty() ? "its driver is not ready" : unusable;
  }
  ENSURE(false);
}

std::string lock_words(const Reason& r, Instant now) {
  switch (r.lock) {
    case Lock::none:
      return "";
    case Lock::shortest_run:
      return fmt::format("; its shortest run holds it{}", left(r.locked_until, now));
    case Lock::shortest_rest:
      return fmt::format("; its shortest rest holds it{}", left(r.locked_until, now));
    case Lock::longest_run:
      return fmt::format("; it has run its longest and rests{}", left(r.locked_until, now));
    case Lock::starts_per_hour:
      return fmt::format("; its starts of this hour are used up{}", left(r.locked_until, now));
  }
  ENSURE(false);
}

/// A driver's own word may end in a full stop; the sentence has its own.
std::string without_stop(std::string text) {
  while (!text.empty() && (text.back() == '.' || text.back() == ' ')) text.pop_back();
  return text;
}

}  // namespace

bool asks_for(const PhasePlan& phase, Effect effect) {
  const auto keeps = [&](Quantity q, Keep::Form but) {
    return phase.of(q) && phase.of(q)->keep && phase.of(q)->keep->form != but;
  };
  const auto temperature = [&](Keep::Form but) {
    return keeps(Quantity::substrate_temperature, but) || keeps(Quantity::air_temperature, but);
  };
  switch (effect) {
    case Effect::humidify:
      return keeps(Quantity::humidity, Keep::Form::below);
    case Effect::dehumidify:
      return keeps(Quantity::humidity, Keep::Form::above);
    case Effect::heat:
      return temperature(Keep::Form::below);
    case Effect::cool:
      return temperature(Keep::Form::above);
    case Effect::light:
      return phase.light.has_value();
    case Effect::fresh_air:
    case Effect::stir:
      return true;
  }
  ENSURE(false);
}

std::string sentence(const Reason& reason, const ActuatorPlan& plan, Level level, Instant since,
                     Instant now, const std::string& unusable, const Led& led) {
  return fmt::format("{}: {}{}{}.", state(plan, level, since, now),
                     rule(reason, plan, now, without_stop(unusable), led), lock_words(reason, now),
                     reason.no_effect ? "; its runs of late seem to move nothing" : "");
}

}  // namespace tubwarden
