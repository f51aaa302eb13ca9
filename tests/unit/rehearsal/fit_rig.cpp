#include "fit_rig.hpp"

#include <algorithm>

namespace tubwarden::rehearsal::fit_test {
namespace {

RunLimits limits(double shortest_run_s, double shortest_rest_s, double longest_run_s, int starts) {
  return {from_seconds(shortest_run_s), from_seconds(shortest_rest_s), from_seconds(longest_run_s),
          starts};
}

ActuatorPlan part(const char* id, Effect effect, double rate, const RunLimits& run_limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = run_limits;
  a.output.id = {"tub", id};
  return a;
}

SensorPlan air_sensor() {
  SensorPlan sensor;
  sensor.id = "air";
  for (Quantity q : {Quantity::humidity, Quantity::air_temperature, Quantity::co2}) {
    QuantitySource source;
    source.quantity = q;
    source.range_high = q == Quantity::co2 ? 10000.0 : 100.0;
    sensor.quantities.push_back(source);
  }
  return sensor;
}

TubPlan a_tub() {
  PhasePlan kept;
  kept.name = kPhaseFruiting;
  kept.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::between, 85.0, 90.0}, std::nullopt, {}};
  kept.quantities[index_of(Quantity::co2)] =
      QuantityPlan{Keep{Keep::Form::below, 0.0, 1000.0}, std::nullopt, {}};
  kept.fresh_air = FreshAirFloor{1.0, minutes(15)};
  auto profile = std::make_shared<Profile>();
  profile->name = "fit";
  profile->phases = {kept};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile;
  tub.substrate_kg = 5.0;
  return tub;
}

}  // namespace

WorldPlan world_of(const Truth& truth, std::uint64_t seed, Duration reading_each) {
  WorldPlan plan;
  plan.chamber.id = plan.chamber.leader = "tub";
  plan.chamber.net_volume.litres = 40.0;
  plan.chamber.sensors = {air_sensor()};
  plan.chamber.actuators = {part("mister", Effect::humidify, 40.0, limits(0.5, 20.0, 5.0, 60)),
                            part("fan", Effect::fresh_air, 2.0, limits(3.0, 10.0, 0.0, 60))};
  plan.tubs = {a_tub()};
  plan.room.temperature.fixed = 20.0;
  plan.room.humidity.fixed = 50.0;
  plan.phases = {{Duration{0}, "tub", kPhaseFruiting}};
  ModelParameters& p = plan.model;
  p = parameters_of(truth.load, 40.0, 5.0);
  const double usual_co2 = p.crop.substrate_kg * p.crop.substrate_co2_g_kgh +
                           p.crop.mushrooms_kg * p.crop.mushrooms_co2_g_kgh;
  if (usual_co2 > 0.0) {
    p.crop.substrate_co2_g_kgh *= truth.co2_g_h / usual_co2;
    p.crop.mushrooms_co2_g_kgh *= truth.co2_g_h / usual_co2;
  }
  p.tub.leak_per_h = truth.leak_per_h;
  if (truth.wall_loss_w_k > 0.0) p.tub.wall_outside_w_m2k = truth.wall_loss_w_k / p.tub.wall_m2;
  p.fog.evaporation_s = truth.droplet_life_s;
  p.crop.casing_w_m2k = truth.evaporation;
  p.sensors[index_of(Quantity::humidity)].lag_s = truth.humidity_lag_s;
  p.sensors[index_of(Quantity::air_temperature)].lag_s = truth.temperature_lag_s;
  p.sensors[index_of(Quantity::co2)].lag_s = truth.co2_lag_s;
  for (SensorTrait& sensor : p.sensors) sensor.dead_s = truth.dead_s;
  plan.room_day = {20.0, 0.0, 15.0, 50.0, kOutdoorCo2Ppm};
  plan.start = {18.0, 80.0, 600.0, 0.0};
  plan.seed = seed;
  plan.rhythm = {reading_each};
  plan.strengths = {truth.mist_g_h / 40.0, truth.fan_m3_h / 2.0};
  return plan;
}

FitOrder order_of(const WorldPlan& plan, Load load) {
  FitOrder order;
  order.chamber = plan.chamber;
  order.usual = parameters_of(load, 40.0, 5.0);
  order.room = {20.0, 0.0, 15.0, 50.0, kOutdoorCo2Ppm};
  order.room_told = true;
  return order;
}

TubHistory history_of(const WorldPlan& plan, Duration length) {
  World world(plan);
  Keeper keeper;
  world.observe(&keeper);
  world.run(length);
  world.observe(nullptr);
  keeper.history.length_s = seconds_of(length);
  std::stable_sort(keeper.history.runs.begin(), keeper.history.runs.end(),
                   [](const HeardRun& a, const HeardRun& b) { return a.from_s < b.from_s; });
  return keeper.history;
}

std::optional<double> true_of(const Truth& truth, FitOf of) {
  switch (of) {
    case FitOf::leak:
      return truth.leak_per_h;
    case FitOf::mist:
      return truth.mist_g_h;
    case FitOf::fan:
      return truth.fan_m3_h;
    case FitOf::dead_time:
      return truth.dead_s;
    case FitOf::humidity_lag:
      return truth.humidity_lag_s;
    case FitOf::temperature_lag:
      return truth.temperature_lag_s;
    case FitOf::co2_lag:
      return truth.co2_lag_s;
    case FitOf::droplet_life:
      return truth.droplet_life_s;
    case FitOf::evaporation:
      return truth.evaporation;
    case FitOf::co2:
      return truth.co2_g_h;
    case FitOf::wall_loss:
      return truth.wall_loss_w_k;
    case FitOf::room_celsius:
      return 20.0;
    case FitOf::room_swing:
      return 0.0;
    case FitOf::room_humidity:
      return 50.0;
    case FitOf::bed_start:
      return 18.0;
    case FitOf::bed_loss:
      break;
  }
  return std::nullopt;
}

}  // namespace tubwarden::rehearsal::fit_test
