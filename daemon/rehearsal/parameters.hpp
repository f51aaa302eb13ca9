// The figures of the physical model: a tub, its crop, its fog, its sensors, the room around.
// Where each default comes from stands in docs/model.md; "assumed" there means nobody measured it.
// Threading: plain values. Failure: none; the model asserts what it cannot compute with.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string_view>
#include <vector>

#include "base/quantity.hpp"

namespace tubwarden::rehearsal {

struct TubParameters {
  double net_air_l = 60.0;
  double wall_m2 = 0.9;             ///< inside, lid included
  double wall_j_k = 3800.0;         ///< small: a plastic shell
  double wall_inside_w_m2k = 4.0;   ///< convection inside; vapour follows it by Lewis
  double wall_outside_w_m2k = 6.0;  ///< convection and radiation to the room
  double leak_per_h = 3.5;          ///< air changes with the lid on, by its filtered holes
  double lid_open_per_h = 600.0;    ///< further air changes with the lid off
  double film_half_g_m2 = 5.0;      ///< film at which half the wall's area still evaporates
  double film_holds_g_m2 = 50.0;    ///< more than this runs down onto the crop, if there is one
  double film_runs_s = 60.0;        ///< time in which it does
  double stirred_by_fan = 0.5;      ///< added to transfer coefficients while a fan blows
  double stirred_by_stir = 1.0;     ///< ... while the air is stirred
};

struct FogParameters {
  /// Life of a droplet x the air's deficit (1 - RH): 1 s means 10 s at 90 % RH.
  double evaporation_s = 1.0;
  double condensation_s = 1.0;  ///< time in which oversaturated air turns to fog
  double settles_per_s = 0.015;
  double settles_on_crop = 0.6;  ///< of what settles; the rest wets the walls
  /// Temperature of the water misted; absent: the room's.
  std::optional<double> water_c;
};

struct CropParameters {
  double casing_m2 = 0.0;         ///< wet surface towards the air; 0: none
  double casing_water_g = 0.0;    ///< free water in it at the start
  double casing_half_g_m2 = 400;  ///< free water at which the surface gives half
  double casing_activity = 0.99;  ///< vapour pressure above it, of that above pure water
  double casing_w_m2k = 4.0;      ///< convection from the surface; vapour follows it by Lewis
  double surface_w_m2k = 20.0;    ///< conduction from the core of the substrate to its surface
  double substrate_kg = 0.0;
  double substrate_j_kgk = 3300.0;
  double substrate_to_room_w_k = 0.8;  ///< through the tub's bottom and lower sides
  double floor_j_k = 600.0;            ///< capacity of what lies on the bottom besides substrate
  double substrate_co2_g_kgh = 0.0;    ///< at reference_c
  double mushrooms_kg = 0.0;
  double mushrooms_co2_g_kgh = 1.056;  ///< at reference_c
  double reference_c = 16.0;
  double q10 = 2.5;
  double heat_kj_g = 10.62;  ///< kJ a gram of CO2
  double water_g_g = 0.409;  ///< g of water a gram of CO2
};

/// What a sensor adds to the truth; by quantity.
struct SensorTrait {
  double lag_s = 10.0;   ///< time to 63 % of a step
  double quantum = 0.0;  ///< smallest step it reports, kept unit; 0: none
  double noise = 0.0;    ///< standard deviation, kept unit
  double dead_s = 0.0;   ///< until it shows anything of a change: its way there, its averaging
};
using SensorTraits = std::array<SensorTrait, kQuantities>;
SensorTraits usual_sensors();

struct ModelParameters {
  TubParameters tub;
  FogParameters fog;
  CropParameters crop;
  SensorTraits sensors = usual_sensors();
};

/// A quantity of the room through time: straight from knot to knot, rising in time, and again from
/// its begin when `length_s` is over.
struct RoomKnot {
  double at_s = 0.0;  ///< since the start
  double value = 0.0;
};
struct RoomSeries {
  std::vector<RoomKnot> celsius, humidity_pct, co2_ppm;  ///< empty: as the day has it
  double length_s = 0.0;
};

/// The room has its own day: a sinusoidal temperature, and a humidity that follows it because the
/// water in its air does not change.
struct RoomDay {
  double mean_c = 20.0;
  double swing_c = 1.5;        ///< half of the day's range
  double warmest_h = 15.0;     ///< hour of the local day at which it is warmest
  double humidity_pct = 50.0;  ///< at mean_c
  double co2_ppm = 420.0;
  std::shared_ptr<const RoomSeries> series{};  ///< instead of the day, as far as it says
};

/// What stands in the tub.
enum class Load { empty, pinning, flush };
std::string_view name_of(Load load);
std::optional<Load> load_named(std::string_view name);

/// An empty tub; a wet casing over substrate in pinning; a full flush on it. Lengths of the walls
/// and the casing follow the net air, `substrate_kg` is 5 where not given.
ModelParameters parameters_of(Load load, double net_air_l, std::optional<double> substrate_kg = {});

}  // namespace tubwarden::rehearsal
