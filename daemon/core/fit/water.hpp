// The fit check's sums of water: what a mister's run moves, what fresh air takes out, what a wet
// casing gives. All at one temperature: the cooling by evaporation is left out.
// Threading: pure functions. Failure: none; ENSURE on volumes and rates that are not positive.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/climate/phase_plan.hpp"

namespace tubwarden::fit {

/// One shortest run may move the air by this share of its band, so that a run decided at a start
/// point ends well inside (a choice).
inline constexpr double kStepOfBand = 0.25;

/// % RH that `grams` of vapour lift still air by: grams over what it holds when saturated.
double rh_of_water(double grams, Litres air, Celsius t);

/// % RH that a mister of `g_per_h` lifts still air by in `run`. 100 g/h, 17 C, 40 L: 4.8 in 1 s.
double rh_of_run(double g_per_h, Duration run, Litres air, Celsius t);

/// The strongest mister, g/h, that moves at most `rh` % in `run` (longer than 0).
double rate_for(double rh, Duration run, Litres air, Celsius t);

/// The longest run in which a mister of `g_per_h` moves at most `rh` %.
Duration run_for(double rh, double g_per_h, Litres air, Celsius t);

/// From where a raising run starts (low + a quarter) to the band's far edge.
double room_above_start(const Band& band);

/// What is moved by a run that starts at low + a quarter and that the sensor ends at the middle,
/// `late` after the air was there; a longest run (not 0) may end it sooner.
struct Reach {
  double moves = 0;       ///< % RH
  bool by_limit = false;  ///< the longest run ends it
};
Reach reach_of_run(const Band& band, double g_per_h, Duration longest, Duration late, Litres air,
                   Celsius t);

/// An air's temperature and humidity.
struct Moist {
  Celsius t;
  Percent rh;
};

/// Grams that a cubic metre of `room` air takes up until it is like `inside`:
/// rho_dry (W_inside - W_room), rho_dry = (p - e) / (287.042 J/(kg K) T), ASHRAE Fundamentals 2017
/// ch. 1. Negative where the room's air holds more water.
double water_taken_g_m3(Moist inside, Moist room);

/// The relative humidity left in an air at its own temperature after `changes` of it were moved,
/// mixing well all the while: W goes to the room's by e^-changes.
Percent rh_after_exchange(Moist inside, Moist room, double changes);

/// The air changes after which rh_after_exchange() is `target`; nothing where the room does not
/// bring the air there.
std::optional<double> changes_until(Moist inside, Moist room, Percent target);

/// 0.025 m2 of casing a kg of substrate: 8 cm deep at 500 kg/m3 (assumed, as in the model).
inline constexpr double kCasingM2PerKg = 0.025;
/// Convection from the surface, W/(m2 K) (common practice of still rooms, no source).
inline constexpr double kCasingWM2K = 4.0;
/// Vapour pressure above a wet casing, of that above water (assumed, as in the model).
inline constexpr double kCasingActivity = 0.99;

/// Of that area under a full flush: stalks and caps stand up into the air (assumed, as in the
/// model).
inline constexpr double kFlushArea = 1.5;

/// Grams an hour that a wet casing at the air's own temperature gives off. Vapour follows heat by
/// Lewis: h / hm = rho cp Le^(2/3), Le 0.85 (from memory). Not negative.
double casing_gives_g_h(double substrate_kg, bool flush, Moist inside);

}  // namespace tubwarden::fit
