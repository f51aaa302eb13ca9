// A whole configuration rehearsed: which phases each tub goes through and when, and a world for
// each air. What had to be assumed is said. Threading: pure. Failure: an air that the model cannot
// play is an Error that names it.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "core/chamber/chamber_plan.hpp"
#include "rehearsal/beds.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

struct GrowOrder {
  Duration length = hours(60 * 24);
  std::uint64_t seed = 1;
  std::optional<Control> control;  ///< instead of the chambers' own
  std::string from;                ///< the first phase; empty: the one of each tub's file
  RoomDay room;
  double start_second_of_day = 0.0;
  std::map<std::string, std::vector<Fault>> faults;  ///< by chamber
};

/// One air, and who stands in it.
struct GrowAir {
  WorldPlan plan;
  std::vector<Walk> walks;  ///< the leader's first
};

struct PlannedGrow {
  std::vector<GrowAir> airs;
  std::vector<std::string> assumed;  ///< sentences
};

/// The unit of an actuator's rate: "g/h", "m3/h" or "W".
std::string_view rate_unit(Effect effect);

/// Whether heaters heat the substrate: a tub's own heater is a mat below it where there is a sensor
/// in its substrate; the heater of a shared air warms that.
bool mat_in(const ChamberPlan& chamber);

/// A room whose fixed quantities are the configuration's, the others' as the model has them.
RoomDay room_day_of(const RoomPlan& room);

/// Error bad_input: nothing that could be played; not_found: no tub has the phase of `from`.
Result<PlannedGrow> plan_grow(const GrowPlan& grow, const GrowOrder& order);

}  // namespace tubwarden::rehearsal
