// A small grow plan for tests: one tub with its own air, and a profile of three phases and the
// empty one. Threading: plain values. Failure: none.
#pragma once

#include <memory>

#include "rehearsal/grow.hpp"

namespace tubwarden::rehearsal {

inline QuantityPlan kept_between(double low, double high) {
  return QuantityPlan{Keep{Keep::Form::between, low, high}, std::nullopt, {}};
}

inline std::shared_ptr<Profile> a_profile() {
  PhasePlan run, pinning, fruiting;
  run.name = kPhaseColonization;
  run.quantities[index_of(Quantity::humidity)] =
      QuantityPlan{Keep{Keep::Form::above, 80.0, 0.0}, std::nullopt, {}};
  run.expect = {hours(10), hours(14), hours(99)};
  run.next = kPhasePinning;
  pinning.name = kPhasePinning;
  pinning.quantities[index_of(Quantity::humidity)] = kept_between(85.0, 92.0);
  pinning.expect.to = hours(12);
  pinning.next = kPhaseFruiting;
  fruiting.name = kPhaseFruiting;
  fruiting.quantities[index_of(Quantity::humidity)] = kept_between(85.0, 90.0);
  fruiting.quantities[index_of(Quantity::co2)] =
      QuantityPlan{Keep{Keep::Form::below, 0.0, 1000.0}, std::nullopt, {}};
  auto profile = std::make_shared<Profile>();
  profile->name = "button";
  profile->phases = {run, pinning, fruiting};
  return profile;
}

inline SensorPlan an_air_sensor() {
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

inline ActuatorPlan an_actuator(const char* id, Effect effect, double rate,
                                const RunLimits& limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.limits = limits;
  a.output.id = {"tub-1", id};
  return a;
}

/// tub-1 in its own 40 L, in colonization.
inline GrowPlan a_grow() {
  GrowPlan grow;
  grow.room.temperature.fixed = 18.0;
  grow.room.humidity.fixed = 55.0;
  ChamberPlan air;
  air.id = air.leader = "tub-1";
  air.net_volume.litres = 40.0;
  air.sensors = {an_air_sensor()};
  air.actuators = {
      an_actuator("mister", Effect::humidify, 40.0,
                  {milliseconds(500), seconds(10), seconds(3), 180}),
      an_actuator("fan", Effect::fresh_air, 2.0, {seconds(3), seconds(10), Duration{0}, 120})};
  grow.chambers = {air};
  TubPlan tub;
  tub.id = tub.chamber = "tub-1";
  tub.phase = kPhaseColonization;
  tub.profile = a_profile();
  tub.substrate_kg = 5.0;
  grow.tubs = {tub};
  return grow;
}

}  // namespace tubwarden::rehearsal
