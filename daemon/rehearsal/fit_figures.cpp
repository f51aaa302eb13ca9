#include "rehearsal/fit_figures.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "rehearsal/plant.hpp"

namespace tubwarden::rehearsal {
namespace {

struct FitName {
  FitOf of;
  std::string_view key, words, unit;
};
constexpr FitName kFitNames[] = {
    {FitOf::leak, "leak_per_h", "leak, lid on", "changes/h"},
    {FitOf::mist, "mist_g_h", "mist at full level", "g/h"},
    {FitOf::fan, "fan_m3_h", "fan at full level", "m3/h"},
    {FitOf::dead_time, "dead_time_s", "dead time", "s"},
    {FitOf::humidity_lag, "humidity_lag_s", "humidity sensor's lag", "s"},
    {FitOf::temperature_lag, "temperature_lag_s", "air thermometer's lag", "s"},
    {FitOf::co2_lag, "co2_lag_s", "CO2 sensor's lag", "s"},
    {FitOf::droplet_life, "droplet_life_s", "droplet life x (1 - RH)", "s"},
    {FitOf::evaporation, "casing_w_m2k", "casing's evaporation", "W/(m2 K)"},
    {FitOf::co2, "co2_g_h", "crop's CO2 at 16 C", "g/h"},
    {FitOf::wall_loss, "wall_loss_w_k", "heat through the walls", "W/K"},
    {FitOf::bed_loss, "bed_loss_w_k", "heat from the substrate", "W/K"},
    {FitOf::room_celsius, "room_c", "room, on average", "C"},
    {FitOf::room_swing, "room_swing_c", "room's swing, +-", "C"},
    {FitOf::room_humidity, "room_humidity_pct", "room's humidity at that", "%"},
    {FitOf::bed_start, "substrate_c", "substrate at the begin", "C"},
};
static_assert(std::size(kFitNames) == kFitOf);

const FitName& fit_name(FitOf of) {
  for (const FitName& name : kFitNames) {
    if (name.of == of) return name;
  }
  ENSURE(false);
}

double crop_co2_g_h(const CropParameters& crop) {
  return crop.substrate_kg * crop.substrate_co2_g_kgh +
         crop.mushrooms_kg * crop.mushrooms_co2_g_kgh;
}

void set_figure(FitPoint& p, const FitAxis& axis, double value) {
  const auto trait = [&](Quantity q) -> SensorTrait& { return p.model.sensors[index_of(q)]; };
  switch (axis.of) {
    case FitOf::leak:
      p.model.tub.leak_per_h = value;
      return;
    case FitOf::mist:
      p.mist = value / axis.usual;
      return;
    case FitOf::fan:
      p.fan = value / axis.usual;
      return;
    case FitOf::dead_time:
      for (SensorTrait& sensor : p.model.sensors) sensor.dead_s = value;
      return;
    case FitOf::humidity_lag:
      trait(Quantity::humidity).lag_s = value;
      return;
    case FitOf::temperature_lag:
      trait(Quantity::air_temperature).lag_s = value;
      return;
    case FitOf::co2_lag:
      trait(Quantity::co2).lag_s = value;
      return;
    case FitOf::droplet_life:
      p.model.fog.evaporation_s = value;
      return;
    case FitOf::evaporation:
      p.model.crop.casing_w_m2k = value;
      return;
    case FitOf::co2:
      p.model.crop.substrate_co2_g_kgh *= value / axis.usual;
      p.model.crop.mushrooms_co2_g_kgh *= value / axis.usual;
      return;
    case FitOf::wall_loss:
      p.model.tub.wall_outside_w_m2k = value / p.model.tub.wall_m2;
      return;
    case FitOf::bed_loss:
      p.model.crop.substrate_to_room_w_k = value;
      return;
    case FitOf::room_celsius:
      p.room.mean_c = value;
      return;
    case FitOf::room_swing:
      p.room.swing_c = value;
      return;
    case FitOf::room_humidity:
      p.room.humidity_pct = value;
      return;
    case FitOf::bed_start:
      p.bed_celsius = value;
      return;
  }
  ENSURE(false);
}

}  // namespace

std::string_view key_of(FitOf of) { return fit_name(of).key; }
std::string_view words_of(FitOf of) { return fit_name(of).words; }
std::string_view unit_of(FitOf of) { return fit_name(of).unit; }

double FitAxis::value(double x) const { return log ? std::exp(x) : x; }
double FitAxis::prior() const { return log ? std::log(usual) : usual; }

double fit_rate(const ChamberPlan& chamber, Effect effect) {
  double rate = 0.0;
  for (const ActuatorPlan& a : chamber.actuators) {
    if (a.effect == effect) rate += a.rate.value_or(usual_rate(effect));
  }
  return rate;
}

std::vector<FitAxis> fit_axes(const FitOrder& order, const FitSigns& signs) {
  const TubParameters& tub = order.usual.tub;
  const CropParameters& crop = order.usual.crop;
  const auto lag = [&](Quantity q) { return order.usual.sensors[index_of(q)].lag_s; };
  const auto read = [&](Quantity q) { return signs.read[index_of(q)]; };
  std::vector<FitAxis> axes = {{FitOf::leak, tub.leak_per_h, true, 0.9}};
  const auto add = [&](bool takes_part, FitAxis axis) {
    if (takes_part) axes.push_back(axis);
  };
  const bool damp = read(Quantity::humidity), warm = read(Quantity::air_temperature);
  const bool gas = read(Quantity::co2), bed = read(Quantity::substrate_temperature);
  add(signs.misted && damp, {FitOf::mist, fit_rate(order.chamber, Effect::humidify), true, 0.6});
  add(signs.aired, {FitOf::fan, fit_rate(order.chamber, Effect::fresh_air), true, 0.6});
  add(true, {FitOf::dead_time, 2.0, true, 0.8});
  add(damp, {FitOf::humidity_lag, lag(Quantity::humidity), true, 0.7});
  add(warm, {FitOf::temperature_lag, lag(Quantity::air_temperature), true, 0.7});
  add(gas, {FitOf::co2_lag, lag(Quantity::co2), true, 0.7});
  add(signs.misted && damp, {FitOf::droplet_life, order.usual.fog.evaporation_s, true, 0.6});
  add(damp && crop.casing_m2 > 0.0, {FitOf::evaporation, crop.casing_w_m2k, true, 0.6});
  add(gas && crop_co2_g_h(crop) > 0.0, {FitOf::co2, crop_co2_g_h(crop), true, 1.0});
  add(warm, {FitOf::wall_loss, tub.wall_outside_w_m2k * tub.wall_m2, true, 0.7});
  add(bed && crop.substrate_kg > 0.0, {FitOf::bed_loss, crop.substrate_to_room_w_k, true, 0.7});
  const bool series = order.room.series != nullptr;
  add(!series, {FitOf::room_celsius, order.room.mean_c, false, order.room_told ? 1.0 : 4.0});
  // A short history tells no swing; there it stands for how the room moved meanwhile.
  add(!series, {FitOf::room_swing, order.room.swing_c, false, 1.5});
  add(!series && damp,
      {FitOf::room_humidity, order.room.humidity_pct, true, order.room_told ? 0.05 : 0.3});
  add(!bed && crop.substrate_kg > 0.0, {FitOf::bed_start, signs.air_celsius, false, 1.5});
  return axes;
}

FitPoint fit_point(const FitOrder& order, std::span<const FitAxis> axes,
                   std::span<const double> x) {
  FitPoint point{order.usual, order.room, 1.0, 1.0, std::nullopt};
  for (std::size_t i = 0; i < axes.size(); ++i) set_figure(point, axes[i], axes[i].value(x[i]));
  return point;
}

}  // namespace tubwarden::rehearsal
