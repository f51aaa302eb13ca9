#include "rehearsal/parameters.hpp"

#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kSubstrateKg = 5.0;
/// A tub of 60 L net air has about 0.9 m2 of inner wall; area goes with volume^(2/3).
constexpr double kLitres = 60.0;
constexpr double kWallM2 = 0.9;
/// 5 kg of substrate 8 cm deep at 500 kg/m3 (assumed) lie on 0.125 m2.
constexpr double kCasingM2PerKg = 0.025;
/// A casing 3.5 cm deep holds about 20 kg/m2, of which a tenth is free water (assumed).
constexpr double kFreeWaterGM2 = 2000.0;
/// Stalks and caps stand up into the air: half the bed's area again (assumed).
constexpr double kFlushAreaFactor = 1.5;

}  // namespace

SensorTraits usual_sensors() {
  SensorTraits traits;
  traits[index_of(Quantity::humidity)] = {8.0, 0.1, 0.1};
  traits[index_of(Quantity::air_temperature)] = {10.0, 0.01, 0.01};
  traits[index_of(Quantity::substrate_temperature)] = {30.0, 0.0625, 0.02};
  traits[index_of(Quantity::co2)] = {60.0, 1.0, 5.0};
  return traits;
}

std::string_view name_of(Load load) {
  switch (load) {
    case Load::empty:
      return "empty";
    case Load::pinning:
      return "pinning";
    case Load::flush:
      return "flush";
  }
  ENSURE(false);
}

std::optional<Load> load_named(std::string_view name) {
  for (Load load : {Load::empty, Load::pinning, Load::flush}) {
    if (name_of(load) == name) return load;
  }
  return std::nullopt;
}

ModelParameters parameters_of(Load load, double net_air_l, std::optional<double> substrate_kg) {
  ENSURE(net_air_l > 0.0);
  ModelParameters p;
  p.tub.net_air_l = net_air_l;
  const double scale = std::pow(net_air_l / kLitres, 2.0 / 3.0);
  p.tub.wall_m2 = kWallM2 * scale;
  p.tub.wall_j_k *= scale;
  if (load == Load::empty) return p;

  CropParameters& crop = p.crop;
  crop.substrate_kg = substrate_kg.value_or(kSubstrateKg);
  crop.casing_m2 = kCasingM2PerKg * crop.substrate_kg;
  crop.casing_water_g = kFreeWaterGM2 * crop.casing_m2;
  crop.substrate_co2_g_kgh = 0.045;
  if (load == Load::flush) {
    crop.mushrooms_kg = 0.1 * crop.substrate_kg;
    crop.casing_m2 *= kFlushAreaFactor;
  }
  return p;
}

}  // namespace tubwarden::rehearsal
