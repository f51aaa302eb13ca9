// The right-hand side of the model: what flows where, as rates of the states. Private to rehearsal.
// Every flow stands once and is added to both its ends, so that what the model conserves does not
// hang on the integration. Threading: one owner. Failure: none.
#pragma once

#include <array>
#include <cstddef>

#include "rehearsal/model.hpp"
#include "rehearsal/room_day.hpp"
#include "rehearsal/saturation_table.hpp"

namespace tubwarden::rehearsal {

enum StateIndex : std::size_t {
  air_j,  ///< enthalpy of air, vapour and fog
  vapour_g,
  fog_g,
  co2_g,
  wall_j,  ///< of the wall and its film
  film_g,
  bed_j,  ///< of substrate, crop and free water
  casing_g,
  water_net_g,  ///< from here on the book: what has crossed the boundary
  water_summed_g,
  co2_net_g,
  co2_summed_g,
  heat_net_j,
  heat_summed_j,
  evaporated_g,  ///< casing to air, net
  condensed_g,   ///< air to walls, net
  kStates
};
using ModelState = std::array<double, kStates>;

class Physics {
 public:
  Physics(const ModelParameters& parameters, double dry_air_g);

  void drive(const Drive& drive);
  void room(const RoomAir& room) { room_ = room; }

  /// Rates of `x`, a second.
  void operator()(const ModelState& x, ModelState& rate, double) const;

  struct Temperatures {
    double air, wall, bed, surface;
    double humidity;  ///< 0..1
  };
  /// What sensors and the next step's length follow; cheap.
  struct Shown {
    double air_c = 0.0, bed_c = 0.0;
    double humidity = 0.0;  ///< 0..1; may pass 1
    double co2_g_g = 0.0;
  };
  Shown shown(const ModelState& x) const;
  Temperatures temperatures(const ModelState& x) const;
  double co2_g_s(const ModelState& x) const;

  /// An upper estimate of the fastest relative change a second; `humidity` is that of `x`.
  double fastest(const ModelState& x, double humidity) const;

  /// A state in which everything has the start's temperature.
  ModelState start(const StartAir& start) const;
  double dry_air_g() const { return dry_air_g_; }
  /// What the bed holds at a temperature, over 0 C.
  double bed_heat_j(double casing_water_g, double celsius) const;

 private:
  struct Surface {
    double celsius;
    double evaporation_g_s;  ///< negative: condensing
  };
  /// Every flow once; g/s and W, fog_j_g in J/g.
  struct Flows {
    double vapour_in, vapour_out, fog_out, heat_in, heat_out, co2_in, co2_out;
    double fog_to_vapour, settled, settled_bed, settled_wall, fog_j_g, mist_j;
    double to_wall, to_wall_j, air_to_wall_j, runs_down, runs_down_j, wall_lost_j;
    double evaporated, evaporated_j, surface_to_air_j, bed_lost_j;
    double breathed, made_water, made_j, dried, dried_j, lamp_bed_j, lamp_air_j;
  };
  Flows flows(const ModelState& x) const;
  Surface surface(double bed_c, const SaturationTable::At& bed_sat, double air_c, double e,
                  double casing) const;
  double air_celsius(const ModelState& x) const;
  double bed_celsius(const ModelState& x) const;
  double vapour_pressure_of(double vapour) const;

  ModelParameters p_;
  SaturationTable table_;
  mutable SaturationTable::Row air_row_, bed_row_, wall_row_;  ///< the last ones found
  double dry_air_g_;
  double dry_air_j_k_;
  double bed_j_k_;
  double saturated_for_g_;  ///< dry air x the ratio of molar masses
  double substrate_co2_g_s_;
  double mushrooms_co2_g_s_;
  double evaporates_per_s_;
  double condenses_per_s_;
  double film_half_g_;
  double film_holds_g_;
  double film_runs_per_s_;
  double settles_on_bed_;
  double casing_half_g_;
  double wall_outside_w_k_;

  // By the drive.
  Drive drive_;
  double exchange_per_s_ = 0.0;
  double wall_w_k_ = 0.0;       ///< air to wall
  double wall_g_s_pa_ = 0.0;    ///< vapour to wall
  double casing_w_k_ = 0.0;     ///< surface to air
  double casing_g_s_pa_ = 0.0;  ///< vapour from casing
  double steady_rate_ = 0.0;    ///< the part of fastest() that does not depend on the state
  double mist_g_s_ = 0.0;
  double dry_g_s_ = 0.0;
  RoomAir room_;
};

}  // namespace tubwarden::rehearsal
