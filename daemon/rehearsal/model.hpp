// One chamber as physics: air, vapour, fog, wall film, wet casing, substrate and CO2, exchanging
// with a room. States, equations and sources: docs/model.md. Nothing here knows a controller.
// Threading: one owner. Failure: none to report; the same calls give the same numbers. Figures that
// cannot be computed with (no air, no walls) are a bug and stop the program.
#pragma once

#include <array>
#include <memory>
#include <optional>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "rehearsal/parameters.hpp"

namespace tubwarden::rehearsal {

/// What acts on the chamber from now on.
struct Drive {
  double mist_g_h = 0.0;
  double dry_g_h = 0.0;  ///< what a dehumidifier takes out of saturated air
  double fan_m3_h = 0.0;
  double heat_air_w = 0.0;
  double heat_substrate_w = 0.0;
  double cool_w = 0.0;
  double lamp_w = 0.0;
  bool fan = false;  ///< blows: the air moves along the surfaces
  bool stir = false;
  bool lid_open = false;
  bool operator==(const Drive&) const = default;
};

struct TrueAir {
  double humidity_pct = 0.0;  ///< may pass 100 for a moment before fog takes it
  double celsius = 0.0;
  double substrate_c = 0.0;
  double surface_c = 0.0;  ///< of the casing or substrate, towards the air
  double wall_c = 0.0;
  double co2_ppm = 0.0;  ///< of the dry air's volume
  double vapour_g = 0.0;
  double fog_g = 0.0;
  double film_g = 0.0;    ///< on the walls
  double casing_g = 0.0;  ///< free water in the casing
  double co2_g_h = 0.0;   ///< what the crop gives off
};

/// What has crossed the chamber's boundary since the start, what is inside now, and was then.
/// inside_now - inside_then == net for a model that conserves; `summed` adds every flow's absolute.
struct Book {
  double inside_then = 0.0;
  double inside_now = 0.0;
  double net = 0.0;
  double summed = 0.0;
};
struct Books {
  Book water_g;
  Book co2_g;
  Book heat_j;  ///< enthalpy over dry air and liquid water at 0 C
  double casing_evaporated_g = 0.0;
  double wall_condensed_g = 0.0;
};

/// How finely time is cut. A step is cut further where something moves so fast that
/// rate x step > rate_step.
struct StepPlan {
  double step_s = 1.0;
  double rate_step = 0.5;
};

/// Where the air starts; the walls and the sensors start with it, and the substrate where nothing
/// else is said.
struct StartAir {
  double celsius = 18.0;
  double humidity_pct = 80.0;
  double co2_ppm = 420.0;
  double second_of_day = 8 * 3600.0;
  std::optional<double> substrate_c{};
};

/// What stands in the air from now on, and how much air is left beside it.
struct Bed {
  CropParameters crop;
  double net_air_l = 60.0;
  /// The casing is given water up to crop.casing_water_g; else it keeps what it has.
  bool watered = false;
};

class ChamberModel {
 public:
  ChamberModel(const ModelParameters& parameters, const RoomDay& room, const StartAir& start,
               const StepPlan& steps = {});
  ~ChamberModel();
  ChamberModel(ChamberModel&&) noexcept;
  ChamberModel& operator=(ChamberModel&&) noexcept;

  void drive(const Drive& drive);
  const Drive& driven() const;

  /// The load changes: a casing is laid, mushrooms grow, are picked. What comes has the bed's
  /// temperature; the air that is displaced takes its water, heat and CO2 with it. The walls stay.
  /// The books go on as if what stands now had always stood there. Grams of water given.
  double lay(const Bed& bed);

  /// Lets time pass under the drive as it stands.
  void advance(Duration passed);

  double passed_s() const;
  TrueAir air() const;
  /// The true value of one quantity; cheap.
  double truth(Quantity q) const;
  /// What a sensor of the parameters' lag and dead time would show, without noise or quantum.
  double lagged(Quantity q) const;
  /// The room now: % RH, degrees, ppm.
  double room_celsius() const;
  double room_humidity_pct() const;
  double room_co2_ppm() const;
  Books books() const;
  const ModelParameters& parameters() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::rehearsal
