// Why an actuator does what it does: kept as values at each turn, told as a sentence when asked.
// Threading: plain values. Failure: none.
#pragma once

#include <optional>
#include <string>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/climate/fresh_air.hpp"
#include "core/climate/phase_plan.hpp"
#include "core/climate/run_gate.hpp"

namespace tubwarden {

enum class Why {
  nobody_here,      ///< no tub stands in this air: safe
  not_led,          ///< several stand here and none of them leads: safe
  not_confirmed,    ///< no record of the phase: safe until confirmed
  phase_unknown,    ///< the recorded phase is not in the profile: safe
  phase_empty,      ///< the phase controls nothing
  not_kept,         ///< the phase keeps no band this actuator serves
  dew_held,         ///< mist would only fall as dew
  drying,           ///< surfaces dry after a watering
  no_reading,       ///< nothing usable to decide by: safe
  blind_duty,       ///< nothing usable to decide by: repeats the last day's share
  blind_unlearned,  ///< ... would, but no day is known, or there is too little to repeat: safe
  blind_over,       ///< ... has, for as long as it may: safe
  blind_unwatched,  ///< ... would, but nothing says how warm a heater gets: safe
  between_starts,   ///< inside, nothing starts
  called,           ///< beyond its start point, until the middle
  opposed,          ///< heating and cooling never together
  ceiling_locked,   ///< the substrate ceiling locks heat and light off
  ceiling_called,   ///< the substrate ceiling calls for cooling
  fan_called,       ///< a master calls
  fan_forbidden,    ///< a master forbids
  fan_idle,         ///< all masters silent
  fan_coasting,     ///< too humid, but the last mist has not settled yet
  fan_no_help,      ///< too humid or too warm, but the room's air is no better
  fan_room_blind,   ///< too humid or too warm, but the room's air is not known
  light_on,
  light_off,
  clock_unset,  ///< light hours cannot be kept
  stir_with,    ///< stirs while the air is being conditioned
  stir_idle,
  attended,      ///< hands are in the tub: it rests
  held_resting,  ///< kept at rest by hand
  held_running,  ///< kept running by hand
  hand_blind,    ///< to be kept running by hand, but nothing says how warm it is
  tried,         ///< a trial by hand
  unusable,      ///< its driver does not obey
};

/// A run of known length: how it was found.
struct DoseReason {
  Duration run{0};
  double seconds_each = 0.0;  ///< of mist for each % RH
  double aim = 0.0;           ///< % RH
  bool fed_forward = false;   ///< it meets the dry air of the fan that runs
};

/// A share of each period, by the slow duty of a substrate.
struct DutyReason {
  double share = 0.0;  ///< 0..1
  Duration period{0};
  bool past = false;  ///< the bed is beyond the band's edge (`start`): nothing is given
};

/// A surface at or below the air's dew point.
struct DewReason {
  double surface_c = 0.0;
  double dew_point_c = 0.0;
  bool lid = false;  ///< reckoned between air and room; else the substrate's sensor
};

/// Why an actuator is run from start point to middle where portions are asked for.
enum class Declined {
  none,
  no_rate,  ///< what a second of it moves is not known
  coarse,   ///< the sensor's step is more than 2 % RH
  slow,     ///< its readings are more than 60 s apart
};

struct Reason {
  Why why = Why::not_confirmed;
  std::optional<Quantity> quantity;
  double value = 0.0;  ///< the reading decided by
  double start = 0.0;  ///< beyond it a run starts
  double stop = 0.0;   ///< there a run stops
  Lock lock = Lock::none;
  std::optional<Instant> until;  ///< when the coast, floor, light or hand changes it
  std::optional<Instant> locked_until;
  bool no_effect = false;  ///< its runs seem to move nothing
  bool by_air = false;     ///< `value` of a substrate is its air's and the allowance above it
  std::optional<FanMaster> master;
  Duration owed{0};  ///< run the fresh-air floor is still owed
  std::optional<DoseReason> dose;
  std::optional<DutyReason> duty;
  std::optional<DewReason> dew;
  std::optional<Instant> dries_until;
  Declined declined = Declined::none;
  std::optional<Instant> since;    ///< of a time without readings
  std::optional<Instant> settles;  ///< until then the last portion shows itself
};

/// Who leads an air and by which plan, for sentences that name a command or another phase.
struct Led {
  std::string tub;    ///< empty: nobody leads
  std::string phase;  ///< empty: not confirmed
  const Profile* profile = nullptr;
};

/// Whether a phase has work for an actuator of this effect. A fan and a stirrer have work in all.
bool asks_for(const PhasePlan& phase, Effect effect);

/// "running for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %."
/// One sentence: state and since when, reading, rule, lock, and what would change it.
/// `unusable` is the driver's own word, used with Why::unusable.
std::string sentence(const Reason& reason, const ActuatorPlan& plan, Level level, Instant since,
                     Instant now, const std::string& unusable, const Led& led = {});

}  // namespace tubwarden
