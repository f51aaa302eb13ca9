#include "rehearsal/physics.hpp"

#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

// ASHRAE Fundamentals 2017 ch. 1 eq. 30: h = 1.006 t + W (2501 + 1.86 t) kJ/kg.
constexpr double kAirJGK = 1.006;
constexpr double kVapourJG = 2501.0;
constexpr double kVapourJGK = 1.86;
constexpr double kWaterJGK = 4.186;  // from memory
constexpr double kMassRatio = 0.621945;
constexpr double kPressurePa = kSeaLevel.value;
constexpr double kKelvin = 273.15;
constexpr double kVapourGasConstant = 461.5;  // J/(kg K)
/// Vapour follows heat by Lewis: h / hm = rho cp Le^(2/3), Le 0.85 for vapour in air (from memory),
/// rho cp of air at 17 C; g/(s m2 Pa) a W/(m2 K).
constexpr double kVapourForHeat =
    1000.0 / (1.2 * 1006.0 * 0.8973) / (kVapourGasConstant * (17.0 + kKelvin));
/// Evaporating cools the air, too, which brings it to saturation about twice as fast again.
constexpr double kCoupling = 3.0;
/// Light that reaches the crop; the rest warms the air.
constexpr double kLampToCrop = 0.5;
constexpr double kFogNone = 1e-7;

constexpr double vapour_enthalpy(double celsius) { return kVapourJG + kVapourJGK * celsius; }

}  // namespace

Physics::Physics(const ModelParameters& parameters, double dry_air_g)
    : p_(parameters),
      table_(parameters.crop.q10, parameters.crop.reference_c),
      dry_air_g_(dry_air_g),
      dry_air_j_k_(dry_air_g * kAirJGK),
      bed_j_k_(p_.crop.floor_j_k +
               (p_.crop.substrate_kg + p_.crop.mushrooms_kg) * p_.crop.substrate_j_kgk),
      saturated_for_g_(kMassRatio * dry_air_g),
      substrate_co2_g_s_(p_.crop.substrate_kg * p_.crop.substrate_co2_g_kgh / 3600.0),
      mushrooms_co2_g_s_(p_.crop.mushrooms_kg * p_.crop.mushrooms_co2_g_kgh / 3600.0),
      evaporates_per_s_(1.0 / p_.fog.evaporation_s),
      condenses_per_s_(1.0 / p_.fog.condensation_s),
      film_half_g_(p_.tub.film_half_g_m2 * p_.tub.wall_m2),
      film_holds_g_(p_.tub.film_holds_g_m2 * p_.tub.wall_m2),
      film_runs_per_s_(p_.crop.casing_m2 > 0.0 ? 1.0 / p_.tub.film_runs_s : 0.0),
      settles_on_bed_(p_.crop.casing_m2 > 0.0 ? p_.fog.settles_on_crop : 0.0),
      casing_half_g_(p_.crop.casing_half_g_m2 * p_.crop.casing_m2 + 1e-9),
      wall_outside_w_k_(p_.tub.wall_outside_w_m2k * p_.tub.wall_m2) {
  ENSURE(dry_air_g_ > 0.0 && p_.tub.wall_m2 > 0.0 && p_.tub.wall_j_k > 0.0);
  ENSURE(bed_j_k_ > 0.0 && p_.fog.evaporation_s > 0.0 && p_.fog.condensation_s > 0.0);
  drive({});
}

void Physics::drive(const Drive& drive) {
  drive_ = drive;
  const double litres = p_.tub.net_air_l;
  exchange_per_s_ = (p_.tub.leak_per_h + (drive.lid_open ? p_.tub.lid_open_per_h : 0.0) +
                     drive.fan_m3_h * 1000.0 / litres) /
                    3600.0;
  const double stirred =
      1.0 + (drive.fan ? p_.tub.stirred_by_fan : 0.0) + (drive.stir ? p_.tub.stirred_by_stir : 0.0);
  wall_w_k_ = stirred * p_.tub.wall_inside_w_m2k * p_.tub.wall_m2;
  wall_g_s_pa_ = wall_w_k_ * kVapourForHeat;
  const double bare_m2 = p_.crop.casing_m2 > 0.0 ? p_.crop.casing_m2 : 0.1 * p_.tub.wall_m2;
  casing_w_k_ = stirred * p_.crop.casing_w_m2k * bare_m2;
  casing_g_s_pa_ = stirred * p_.crop.casing_w_m2k * p_.crop.casing_m2 * kVapourForHeat;
  mist_g_s_ = drive.mist_g_h / 3600.0;
  dry_g_s_ = drive.dry_g_h / 3600.0;
  const double saturated_g = dry_air_g_ * kMassRatio * 2000.0 / kPressurePa;
  steady_rate_ = exchange_per_s_ + (wall_w_k_ + casing_w_k_) / dry_air_j_k_ +
                 (wall_g_s_pa_ + casing_g_s_pa_) * 2000.0 / saturated_g + dry_g_s_ / saturated_g;
}

inline double Physics::vapour_pressure_of(double vapour) const {
  return kPressurePa * vapour / (saturated_for_g_ + vapour);
}

inline double Physics::air_celsius(const ModelState& x) const {
  return (x[air_j] - x[vapour_g] * kVapourJG) /
         (dry_air_j_k_ + x[vapour_g] * kVapourJGK + x[fog_g] * kWaterJGK);
}

inline double Physics::bed_celsius(const ModelState& x) const {
  return x[bed_j] / (bed_j_k_ + x[casing_g] * kWaterJGK);
}

Physics::Shown Physics::shown(const ModelState& x) const {
  const double air_c = air_celsius(x);
  return {air_c, bed_celsius(x),
          vapour_pressure_of(x[vapour_g]) / table_.at(air_c, air_row_).pressure,
          x[co2_g] / dry_air_g_};
}

/// The surface stands where conduction from below feeds evaporation and the air's convection;
/// saturation pressure is taken as straight between core and surface.
inline Physics::Surface Physics::surface(double bed_c, const SaturationTable::At& bed_sat,
                                         double air_c, double e, double casing) const {
  const double wet = casing_g_s_pa_ > 0.0 ? casing / (casing + casing_half_g_) : 0.0;
  const double from_core = p_.crop.casing_activity * bed_sat.pressure - e;
  const double k = from_core > 0.0 ? casing_g_s_pa_ * wet : casing_g_s_pa_;
  const double slope = p_.crop.casing_activity * bed_sat.pressure_slope;
  const double conducts = p_.crop.surface_w_m2k * (p_.crop.casing_m2 + 0.01);
  const double below = (vapour_enthalpy(bed_c) * k * from_core + casing_w_k_ * (bed_c - air_c)) /
                       (conducts + vapour_enthalpy(bed_c) * k * slope + casing_w_k_);
  return {bed_c - below, k * (from_core - slope * below)};
}

inline Physics::Flows Physics::flows(const ModelState& x) const {
  Flows f;
  const double air_c = air_celsius(x);
  const double wall_c = x[wall_j] / (p_.tub.wall_j_k + x[film_g] * kWaterJGK);
  const double bed_c = bed_celsius(x);
  const SaturationTable::At air_sat = table_.at(air_c, air_row_);
  const SaturationTable::At bed_sat = table_.at(bed_c, bed_row_);
  const double e = vapour_pressure_of(x[vapour_g]);
  const double humid = e / air_sat.pressure;

  // Exchange with the room: as much dry air in as out.
  const double a = exchange_per_s_;
  const double in_g = a * dry_air_g_;
  f.vapour_in = in_g * room_.vapour_g_g;
  f.heat_in = in_g * (kAirJGK * room_.celsius + room_.vapour_g_g * vapour_enthalpy(room_.celsius));
  f.vapour_out = a * x[vapour_g];
  f.fog_out = a * x[fog_g];
  f.heat_out = a * x[air_j];
  f.co2_in = in_g * room_.co2_g_g;
  f.co2_out = a * x[co2_g];

  // Fog: evaporates by the deficit, forms in oversaturated air, settles on crop and walls.
  f.fog_to_vapour = humid < 1.0 ? x[fog_g] * (1.0 - humid) * evaporates_per_s_
                                : (1.0 - humid) * x[vapour_g] * condenses_per_s_;
  f.settled = x[fog_g] * p_.fog.settles_per_s;
  f.settled_bed = f.settled * settles_on_bed_;
  f.settled_wall = f.settled - f.settled_bed;
  f.fog_j_g = kWaterJGK * air_c;
  f.mist_j = mist_g_s_ * kWaterJGK * p_.fog.water_c.value_or(room_.celsius);

  // Walls: condense what is above their saturation, give back what film they have.
  const double film_drive = wall_g_s_pa_ * (e - table_.at(wall_c, wall_row_).pressure);
  f.to_wall = film_drive > 0.0 ? film_drive : film_drive * x[film_g] / (x[film_g] + film_half_g_);
  f.to_wall_j = f.to_wall * vapour_enthalpy(f.to_wall > 0.0 ? air_c : wall_c);
  f.air_to_wall_j = wall_w_k_ * (air_c - wall_c);
  f.runs_down = x[film_g] > film_holds_g_ ? (x[film_g] - film_holds_g_) * film_runs_per_s_ : 0.0;
  f.runs_down_j = f.runs_down * kWaterJGK * wall_c;
  f.wall_lost_j = wall_outside_w_k_ * (wall_c - room_.celsius);

  // Bed: evaporates from its surface, breathes, conducts through the bottom.
  const Surface top = surface(bed_c, bed_sat, air_c, e, x[casing_g]);
  f.evaporated = top.evaporation_g_s;
  f.evaporated_j = f.evaporated * vapour_enthalpy(f.evaporated > 0.0 ? top.celsius : air_c);
  f.surface_to_air_j = casing_w_k_ * (top.celsius - air_c);
  f.bed_lost_j = p_.crop.substrate_to_room_w_k * (bed_c - room_.celsius);
  f.breathed = substrate_co2_g_s_ * bed_sat.vigour + mushrooms_co2_g_s_ * air_sat.vigour;
  f.made_water = f.breathed * p_.crop.water_g_g;
  f.made_j = f.breathed * p_.crop.heat_kj_g * 1000.0 + f.made_water * kWaterJGK * bed_c;

  // Appliances. A dryer gives the heat of condensation back to the air; its water leaves.
  f.dried = dry_g_s_ * humid;
  f.dried_j = f.dried * kWaterJGK * air_c;
  f.lamp_bed_j = drive_.lamp_w * kLampToCrop;
  f.lamp_air_j = drive_.lamp_w - f.lamp_bed_j;
  return f;
}

void Physics::operator()(const ModelState& x, ModelState& rate, double) const {
  const Flows f = flows(x);
  // What is known last is added last: the next stage waits for these sums.
  rate[air_j] = f.heat_in - f.heat_out + f.mist_j + drive_.heat_air_w + f.lamp_air_j -
                drive_.cool_w - f.settled * f.fog_j_g - f.dried_j - f.air_to_wall_j - f.to_wall_j +
                f.surface_to_air_j + f.evaporated_j;
  rate[vapour_g] =
      f.vapour_in - f.vapour_out - f.dried - f.to_wall + f.fog_to_vapour + f.evaporated;
  rate[fog_g] = mist_g_s_ - f.fog_to_vapour - f.settled - f.fog_out;
  rate[co2_g] = f.co2_in - f.co2_out + f.breathed;
  rate[wall_j] =
      f.to_wall_j + f.air_to_wall_j + f.settled_wall * f.fog_j_g - f.runs_down_j - f.wall_lost_j;
  rate[film_g] = f.to_wall + f.settled_wall - f.runs_down;
  rate[bed_j] = drive_.heat_substrate_w + f.lamp_bed_j + f.settled_bed * f.fog_j_g + f.runs_down_j -
                f.bed_lost_j + f.made_j - f.surface_to_air_j - f.evaporated_j;
  rate[casing_g] = f.settled_bed + f.runs_down + f.made_water - f.evaporated;

  rate[water_net_g] = mist_g_s_ + f.vapour_in + f.made_water - f.vapour_out - f.fog_out - f.dried;
  rate[water_summed_g] =
      mist_g_s_ + f.vapour_in + f.made_water + f.vapour_out + f.fog_out + f.dried;
  rate[co2_net_g] = f.co2_in + f.breathed - f.co2_out;
  rate[co2_summed_g] = f.co2_in + f.breathed + f.co2_out;
  const double heat_made =
      f.mist_j + f.made_j + drive_.heat_air_w + drive_.heat_substrate_w + drive_.lamp_w;
  rate[heat_net_j] =
      f.heat_in + heat_made - f.heat_out - f.wall_lost_j - f.bed_lost_j - f.dried_j - drive_.cool_w;
  rate[heat_summed_j] = std::fabs(f.heat_in) + heat_made + std::fabs(f.heat_out) +
                        std::fabs(f.wall_lost_j) + std::fabs(f.bed_lost_j) + f.dried_j +
                        drive_.cool_w;
  rate[evaporated_g] = f.evaporated;
  rate[condensed_g] = f.to_wall;
}

Physics::Temperatures Physics::temperatures(const ModelState& x) const {
  const double air_c = air_celsius(x);
  const double bed_c = bed_celsius(x);
  const double e = vapour_pressure_of(x[vapour_g]);
  return {air_c, x[wall_j] / (p_.tub.wall_j_k + x[film_g] * kWaterJGK), bed_c,
          surface(bed_c, table_.at(bed_c, bed_row_), air_c, e, x[casing_g]).celsius,
          e / table_.at(air_c, air_row_).pressure};
}

double Physics::co2_g_s(const ModelState& x) const {
  return substrate_co2_g_s_ * table_.at(bed_celsius(x)).vigour +
         mushrooms_co2_g_s_ * table_.at(air_celsius(x)).vigour;
}

double Physics::fastest(const ModelState& x, double humid) const {
  double fastest = steady_rate_;
  if (humid > 0.999) fastest += kCoupling / p_.fog.condensation_s;
  if (x[fog_g] > kFogNone || mist_g_s_ > 0.0) {
    const double deficit = humid < 1.0 ? 1.0 - humid : 0.0;
    fastest += (deficit + kCoupling * x[fog_g] / x[vapour_g]) / p_.fog.evaporation_s;
  }
  return fastest;
}

ModelState Physics::start(const StartAir& start) const {
  ModelState x{};
  const double t = start.celsius;
  x[vapour_g] = dry_air_g_ * humidity_ratio(Celsius{t}, Percent{start.humidity_pct});
  x[co2_g] = dry_air_g_ * co2_g_g_from_ppm(start.co2_ppm);
  x[casing_g] = p_.crop.casing_water_g;
  x[air_j] = dry_air_j_k_ * t + x[vapour_g] * vapour_enthalpy(t);
  x[wall_j] = p_.tub.wall_j_k * t;
  x[bed_j] = bed_heat_j(x[casing_g], start.substrate_c.value_or(t));
  return x;
}

double Physics::bed_heat_j(double casing_water_g, double celsius) const {
  return (bed_j_k_ + casing_water_g * kWaterJGK) * celsius;
}

}  // namespace tubwarden::rehearsal
