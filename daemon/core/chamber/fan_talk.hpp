// What the masters of a fan say in one turn. Private to core/chamber. Threading: plain values.
// Failure: none.
#pragma once

#include <array>
#include <optional>

#include "core/chamber/wish.hpp"

namespace tubwarden {

struct FanTalk {
  const ActuatorPlan& fan;
  const ActuatorState& state;
  bool by_portions = false;
  FanSays says{};
  std::array<Reason, kFanMasters> reasons{};
  std::array<std::optional<PlannedRun>, kFanMasters> planned{};
  std::optional<Quantity> blind{};  ///< a master would have a say, and this has no reading
  std::optional<Reason> waits{};    ///< a quantity is too high, and the fan cannot help it now
  std::optional<Instant> wake{};
  Duration floor_owed{0};
  std::optional<Instant> floor_until{};

  void say(FanMaster master, Say what, const Reason& reason) {
    says[static_cast<std::size_t>(master)] = what;
    reasons[static_cast<std::size_t>(master)] = reason;
  }
  void wait(Why why, Reason reason) {
    if (waits) return;
    reason.why = why;
    waits = reason;
  }
  void plan(FanMaster master, const PlannedRun& run) {
    planned[static_cast<std::size_t>(master)] = run;
  }
};

/// A quantity over its start point, for a sentence. It is kept and has a reading.
Reason lowering(const Chamber::State& s, Quantity q);

/// Whether a kept quantity can be judged; notes the blindness of one that has a sensor.
bool judged(const Chamber::State& s, FanTalk& talk, Quantity q);

/// Whether the room's air would take water away: its humidity ratio is below this air's. Not where
/// one of the four readings is missing.
bool room_is_drier(const Chamber::State& s, Instant now);

/// surfaces.cpp: calls where dew falls on the bed and the room's air would take it away.
bool ask_dew(const Chamber::State& s, FanTalk& talk, Instant now);
/// surfaces.cpp: calls for a part of each minute while surfaces dry after a watering; whether it is
/// the business of that.
bool ask_drying(const Chamber::State& s, FanTalk& talk, const PhasePlan& phase, Instant now);

/// Where a fan that doses begins to take out CO2, ppm.
double co2_start(const Band& band);

// fan_portions.cpp: the masters of a fan that doses; only where by_portions().
void ask_co2_portion(const Chamber::State& s, FanTalk& talk, Instant now);
void ask_humidity_portion(const Chamber::State& s, FanTalk& talk, Instant now);
/// Whether the floor calls now: its run is spread over the window in portions.
bool floor_portion(Chamber::State& s, FanTalk& talk, Duration run, Duration every,
                   const FloorClock::Need& need, Instant now);

}  // namespace tubwarden
