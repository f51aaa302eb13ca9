// What one actuator is wished to do, before limits and locks. Private to core/chamber.
// Threading: plain values. Failure: none.
#pragma once

#include <optional>

#include "core/chamber/chamber_state.hpp"

namespace tubwarden {

struct Wish {
  bool run = false;
  bool safe = false;                 ///< not decided: its safe level
  bool cuts = false;                 ///< a run may end inside its shortest run
  std::optional<Duration> run_for;   ///< a trial: its driver ends it after this
  std::optional<Instant> run_until;  ///< a portion: its driver ends it then
  Reason reason;
};

Wish resting(Why why);
Wish safely(Why why, std::optional<Quantity> q = {});

/// A run, or a rest that ends any run, because a substrate ceiling holds.
Wish by_ceiling(const Chamber::State& s, Why why, bool run);

/// The temperature a heater or cooler serves: the one the phase keeps (settings refuses both).
std::optional<Quantity> kept_temperature(const Chamber::State& s);

/// Hands are in the tub: every output of this air rests.
std::optional<Wish> attended_wish(const Chamber::State& s);
/// What a hand on this output holds it at.
std::optional<Wish> handed_wish(const Chamber::State& s, const ActuatorPlan& plan, Instant now);

/// What `ruled` becomes where its quantity has no trusted reading and its blind rule is duty.
Wish blind_wish(Chamber::State& s, const ActuatorPlan& plan, ActuatorState& state,
                const Wish& ruled, Effects& effects, Instant now);

/// What a mister that doses is wished to do; only where by_portions().
Wish mist_wish(Chamber::State& s, const ActuatorPlan& mister, const ActuatorState& state,
               Effects& effects, Instant now);

/// A mister's rest because its mist would only fall as dew; nothing where it may run.
std::optional<Wish> dew_wish(const Chamber::State& s, const ActuatorState& state, bool doses);

/// A mister's rest while surfaces dry after a watering; nothing where no window is open.
std::optional<Wish> drying_wish(const Chamber::State& s, const PhasePlan& phase, Effects& effects,
                                Instant now);

/// What a heater or cooler of the substrate is wished to do; only where by_duty().
Wish duty_wish(Chamber::State& s, const ActuatorPlan& plan, Effects& effects, Instant now);

/// What a fan is wished to do by its masters. Without a phase only the ceiling is asked.
Wish fan_wish(Chamber::State& s, const PhasePlan* phase, const ActuatorPlan& fan,
              const ActuatorState& state, Effects& effects, Instant now);

}  // namespace tubwarden
