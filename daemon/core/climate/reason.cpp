#include "core/climate/reason.hpp"

#include <fmt/format.h>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden {
namespace {

std::string amount(double value, Quantity q) {
  return fmt::format("{} {}", trimmed(value, q == Quantity::co2 ? 0 : 2), unit_of(q));
}

std::string state(const ActuatorPlan& plan, Level level, Instant since, Instant now) {
  const std::string stood = spoken(now - since);
  if (level == kRest) return fmt::format("rests since {}", stood);
  if (level == kRun) return fmt::format("runs since {}", stood);
  return fmt::format("stands at its {} % since {}", trimmed(plan.output.safe / 10.0, 1), stood);
}

std::string left(const Reason& reason, Instant now) {
  if (!reason.until || *reason.until <= now) return "";
  return fmt::format(" for another {}", spoken(*reason.until - now));
}

/// Whether a run of this effect starts when the reading is under its start point.
bool raises(Effect effect) { return effect == Effect::humidify || effect == Effect::heat; }

std::string reading_and_rule(const Reason& r, Effect effect) {
  const bool below = raises(effect);
  if (r.why == Why::between_starts) {
    return fmt::format("{} {} needs nothing; it would start {} {}", word_of(*r.quantity),
                       amount(r.value, *r.quantity), below ? "below" : "above",
                       amount(r.start, *r.quantity));
  }
  return fmt::format("{} {} went {} {}; it stops at {}", word_of(*r.quantity),
                     amount(r.value, *r.quantity), below ? "below" : "above",
                     amount(r.start, *r.quantity), amount(r.stop, *r.quantity));
}

std::string fan_rule(const Reason& r, Instant now) {
  const std::string master(name_of(*r.master));
  if (*r.master == FanMaster::floor) {
    return fmt::format("the fresh-air floor is owed {} of fan before its window ends{}",
                       spoken(r.owed),
                       r.until ? fmt::format(" in {}", spoken(*r.until - now)) : "");
  }
  if (!r.quantity) return fmt::format("its master is the {}", master);
  if (r.why == Why::fan_forbidden) {
    return fmt::format("{} {} forbids: the room would push it past {}", word_of(*r.quantity),
                       amount(r.value, *r.quantity), amount(r.start, *r.quantity));
  }
  return fmt::format("{} {} went above {}; it stops at {}", word_of(*r.quantity),
                     amount(r.value, *r.quantity), amount(r.start, *r.quantity),
                     amount(r.stop, *r.quantity));
}

std::string rule(const Reason& r, const ActuatorPlan& plan, Instant now,
                 const std::string& unusable) {
  switch (r.why) {
    case Why::not_confirmed:
      return "safe, because nobody has confirmed the phase yet; `tubwarden phase TUB PHASE` does";
    case Why::phase_empty:
      return "the phase is empty and controls nothing";
    case Why::not_kept:
      return "this phase keeps nothing that it serves";
    case Why::no_reading:
      return fmt::format("safe, because there is no usable {} reading; a live one changes it",
                         r.quantity ? word_of(*r.quantity) : "air");
    case Why::between_starts:
    case Why::called:
      return reading_and_rule(r, plan.effect);
    case Why::opposed:
      return "its opponent runs; heating and cooling never run together";
    case Why::ceiling_locked:
      return fmt::format("locked by the substrate ceiling: {} is at or above {}; free below {}",
                         amount(r.value, Quantity::substrate_temperature),
                         amount(r.start, Quantity::substrate_temperature),
                         amount(r.stop, Quantity::substrate_temperature));
    case Why::ceiling_called:
      return fmt::format("called by the substrate ceiling: {} is at or above {}; until {}",
                         amount(r.value, Quantity::substrate_temperature),
                         amount(r.start, Quantity::substrate_temperature),
                         amount(r.stop, Quantity::substrate_temperature));
    case Why::fan_called:
    case Why::fan_forbidden:
      return fan_rule(r, now);
    case Why::fan_idle:
      return r.until && *r.until > now
                 ? fmt::format("nothing asks for fresh air; its floor comes in {} at the latest",
                               spoken(*r.until - now))
                 : "nothing asks for fresh air";
    case Why::light_on:
      return fmt::format("within its hours{}", left(r, now));
    case Why::light_off:
      return fmt::format("outside its hours{}", left(r, now));
    case Why::clock_unset:
      return "the clock is not set, so its hours are not known";
    case Why::stir_with:
      return "stirs while the air is being conditioned";
    case Why::stir_idle:
      return "nothing conditions the air now";
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
      return fmt::format("; its shortest run holds{}", left(r, now));
    case Lock::shortest_rest:
      return fmt::format(", but its shortest rest holds{}", left(r, now));
    case Lock::longest_run:
      return fmt::format(", but its longest run is over; it rests{}", left(r, now));
    case Lock::starts_per_hour:
      return fmt::format(", but its starts for this hour are used up{}", left(r, now));
  }
  ENSURE(false);
}

}  // namespace

std::string sentence(const Reason& reason, const ActuatorPlan& plan, Level level, Instant since,
                     Instant now, const std::string& unusable) {
  return fmt::format("{}: {}{}.", state(plan, level, since, now), rule(reason, plan, now, unusable),
                     lock_words(reason, now));
}

}  // namespace tubwarden
