#include "bench/climate/tubs.hpp"

#include <yaml-cpp/yaml.h>

#include <cmath>
#include <map>
#include <memory>
#include <stdexcept>

#include "rehearsal/dice.hpp"

namespace tubwarden::bench {
namespace {

using rehearsal::Load;

YAML::Node at(const YAML::Node& node, const char* key) {
  const YAML::Node found = node[key];
  if (!found) throw std::runtime_error(std::string("ranges: no ") + key);
  return found;
}
double number(const YAML::Node& node, const char* key) { return at(node, key).as<double>(); }
Duration time_at(const YAML::Node& node, const char* key) {
  return from_seconds(number(node, key));
}

RunLimits run_limits_at(const YAML::Node& limits, const char* key) {
  const YAML::Node node = at(limits, key);
  return {time_at(node, "shortest_run"), time_at(node, "shortest_rest"),
          time_at(node, "longest_run"), at(node, "starts_per_hour").as<int>()};
}
Limits limits_at(const YAML::Node& told, const char* key) {
  const YAML::Node node = at(told, key);
  return {run_limits_at(node, "mister"), run_limits_at(node, "fan")};
}

Told read_told(const YAML::Node& node) {
  const YAML::Node band = at(node, "humidity_pct");
  const YAML::Node floor = at(node, "floor");
  return {number(node, "net_air_l"),
          number(node, "mister_g_h"),
          number(node, "fan_m3_h"),
          number(node, "substrate_kg"),
          number(node, "room_celsius"),
          number(node, "room_humidity_pct"),
          {band[0].as<double>(), band[1].as<double>()},
          number(node, "co2_below_ppm"),
          {number(floor, "changes"), time_at(floor, "every_s")},
          time_at(node, "reading_each_s"),
          limits_at(node, "limits"),
          limits_at(node, "wide")};
}

Range read_range(const std::string& name, const YAML::Node& node) {
  const auto law = at(node, "law").as<std::string>();
  Range range{name, number(node, "low"), number(node, "high"), law == "log"};
  if (!(range.low > 0.0 && range.low < range.high) || (law != "log" && law != "even")) {
    throw std::runtime_error("ranges: " + name);
  }
  return range;
}

/// Every row of the file once, in its order.
class Drawn {
 public:
  Drawn(const Ranges& ranges, int set) {
    rehearsal::Dice dice(ranges.seed + static_cast<std::uint64_t>(set));
    for (const Range& r : ranges.draws) {
      const double share = dice.unit();
      by_name_[r.name] =
          r.log ? r.low * std::pow(r.high / r.low, share) : r.low + (r.high - r.low) * share;
    }
  }
  double operator[](const char* name) const {
    const auto found = by_name_.find(name);
    if (found == by_name_.end()) throw std::runtime_error(std::string("ranges: no ") + name);
    return found->second;
  }
  std::size_t size() const { return by_name_.size(); }

 private:
  std::map<std::string, double> by_name_;
};

ActuatorPlan output(const char* id, Effect effect, double rate, const RunLimits& limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = limits;
  a.output.id = {"tub", id};
  return a;
}

QuantitySource source(Quantity q, double low, double high) {
  QuantitySource s;
  s.quantity = q;
  s.range_low = low;
  s.range_high = high;
  return s;
}

ChamberPlan chamber_of(const Told& told, const Asked& asked) {
  ChamberPlan chamber;
  chamber.id = chamber.leader = "tub";
  chamber.net_volume.litres = told.net_air_l;
  chamber.control = asked.control;
  SensorPlan air;
  air.id = "air";
  air.quantities = {source(Quantity::humidity, 0.0, 100.0),
                    source(Quantity::air_temperature, -40.0, 80.0),
                    source(Quantity::co2, 0.0, 10000.0)};
  chamber.sensors = {air};
  const Limits& limits = asked.wide ? told.wide : told.limits;
  chamber.actuators = {output("mister", Effect::humidify, told.mister_g_h, limits.mister),
                       output("fan", Effect::fresh_air, told.fan_m3_h, limits.fan)};
  return chamber;
}

TubPlan tub_in(const Told& told, const std::string& phase) {
  PhasePlan kept;
  kept.name = phase;
  kept.quantities[index_of(Quantity::humidity)] = QuantityPlan{
      Keep{Keep::Form::between, told.humidity.low, told.humidity.high}, std::nullopt, {}};
  kept.quantities[index_of(Quantity::co2)] =
      QuantityPlan{Keep{Keep::Form::below, 0.0, told.co2_below_ppm}, std::nullopt, {}};
  kept.fresh_air = told.floor;
  auto profile = std::make_shared<Profile>();
  profile->name = "bench";
  profile->phases = {kept};
  TubPlan tub;
  tub.id = tub.chamber = "tub";
  tub.profile = profile;
  tub.substrate_kg = told.substrate_kg;
  return tub;
}

rehearsal::ModelParameters model_of(const Told& told, Load load, const Drawn& drawn) {
  auto p = rehearsal::parameters_of(load, told.net_air_l, told.substrate_kg);
  p.tub.leak_per_h = drawn["leak_per_h"];
  p.fog.evaporation_s = drawn["droplet_life_s"];
  p.crop.casing_w_m2k *= drawn["casing_evaporation"];
  p.crop.substrate_co2_g_kgh *= drawn["co2_source"];
  p.crop.mushrooms_co2_g_kgh *= drawn["co2_source"];
  auto& humidity = p.sensors[index_of(Quantity::humidity)];
  humidity.lag_s = drawn["humidity_lag_s"];
  humidity.noise = drawn["humidity_noise_pct"];
  auto& co2 = p.sensors[index_of(Quantity::co2)];
  co2.lag_s = drawn["co2_lag_s"];
  co2.noise = drawn["co2_noise_ppm"];
  p.sensors[index_of(Quantity::air_temperature)].lag_s = drawn["temperature_lag_s"];
  for (auto& sensor : p.sensors) sensor.dead_s = drawn["dead_time_s"];
  return p;
}

}  // namespace

Ranges read_ranges(const std::string& file) {
  const YAML::Node root = YAML::LoadFile(file);
  const YAML::Node start = at(root, "start");
  const YAML::Node coarse = at(root, "coarse");
  Ranges ranges;
  ranges.seed = at(root, "seed").as<std::uint64_t>();
  ranges.sets = at(root, "sets").as<int>();
  ranges.told = read_told(at(root, "told"));
  ranges.start = {number(start, "celsius"), number(start, "humidity_pct"), number(start, "co2_ppm"),
                  0.0};
  for (const auto& row : at(root, "draws")) {
    ranges.draws.push_back(read_range(row.first.as<std::string>(), row.second));
  }
  ranges.coarse_step_pct = number(coarse, "humidity_step_pct");
  ranges.coarse_each = time_at(coarse, "reading_each_s");
  return ranges;
}

rehearsal::WorldPlan tub_of(const Ranges& ranges, const Asked& asked) {
  const Told& told = ranges.told;
  const Drawn drawn(ranges, asked.set);
  const std::string phase = asked.load == Load::flush ? kPhaseFruiting : kPhasePinning;
  rehearsal::WorldPlan plan;
  plan.chamber = chamber_of(told, asked);
  plan.tubs = {tub_in(told, phase)};
  plan.room.temperature.fixed = told.room_celsius;
  plan.room.humidity.fixed = told.room_humidity_pct;
  plan.phases = {{Duration{0}, "tub", phase}};
  plan.model = model_of(told, asked.load, drawn);
  plan.room_day = {told.room_celsius, 0.0, 15.0, told.room_humidity_pct, kOutdoorCo2Ppm};
  plan.start = ranges.start;
  plan.seed = ranges.seed + static_cast<std::uint64_t>(asked.set);
  plan.rhythm = {asked.coarse ? ranges.coarse_each : told.reading_each};
  if (asked.coarse) {
    const auto humidity = index_of(Quantity::humidity);
    plan.model.sensors[humidity].quantum = ranges.coarse_step_pct;
    plan.chamber.sensors[0].quantities[0].step = ranges.coarse_step_pct;
  }
  plan.strengths = {drawn["mister_gain"], drawn["fan_gain"]};
  plan.run_in = hours(2);
  return plan;
}

}  // namespace tubwarden::bench
