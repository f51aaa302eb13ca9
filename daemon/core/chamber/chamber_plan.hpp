// What the configuration says as a whole: chambers, the tubs and shelves that stand in them, the
// room. Threading: plain values, shared as const. Failure: none; settings has checked what is here.
#pragma once

#include <array>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/climate/actuator_plan.hpp"
#include "core/climate/phase_plan.hpp"
#include "core/climate/portion.hpp"
#include "core/sensing/sensor_plan.hpp"

namespace tubwarden {

/// Net air in litres: one amount, or one a phase (substrate and casing take their share).
struct NetVolume {
  double litres = 0.0;
  std::map<std::string, double> litres_in_phase;

  double in(const std::string& phase) const {
    const auto it = litres_in_phase.find(phase);
    return it == litres_in_phase.end() ? litres : it->second;
  }
};

/// Of a lid with filtered holes (assumed, as in docs/model.md).
inline constexpr double kLeakAssumedPerH = 3.5;

/// One air: it owns sensors and actuators. A tub's own air is a chamber of the tub's name.
struct ChamberPlan {
  std::string id;
  std::string leader;         ///< the tub whose phase the chamber keeps
  bool leader_named = false;  ///< by its file; else it is the only one that stands there
  NetVolume net_volume;
  /// Air changes an hour with the lid on and the fan at rest; nothing: kLeakAssumedPerH.
  std::optional<double> leak_per_h;
  Control control = Control::portions;  ///< of misters with a rate, and of fans
  std::vector<SensorPlan> sensors;
  std::vector<ActuatorPlan> actuators;
};

/// The step of the finest humidity sensor, % RH; 0: none is known.
double humidity_step(const ChamberPlan& plan);

struct TubPlan {
  std::string id;
  bool is_shelf = false;  ///< a shelf of jars: phases grain and empty only
  std::string chamber;
  std::string batch;
  std::string phase;  ///< what the file says; the record is the truth
  std::shared_ptr<const Profile> profile;
  std::optional<double> substrate_kg;
  std::optional<double> substrate_ceiling_c;
};

/// The room around the chambers, a quantity each: absent, a fixed value, or a sensor.
struct RoomSource {
  std::optional<double> fixed;
  std::optional<SensorPlan> sensor;
  bool known() const { return fixed || sensor; }
};
struct RoomPlan {
  RoomSource temperature, humidity, co2;
};

inline constexpr double kOutdoorCo2Ppm = 420.0;  ///< where the room's CO2 is not known

struct GrowPlan {
  RoomPlan room;
  std::vector<ChamberPlan> chambers;
  std::vector<TubPlan> tubs;

  const ChamberPlan* chamber(const std::string& id) const {
    for (const ChamberPlan& c : chambers) {
      if (c.id == id) return &c;
    }
    return nullptr;
  }
  const TubPlan* tub(const std::string& id) const {
    for (const TubPlan& t : tubs) {
      if (t.id == id) return &t;
    }
    return nullptr;
  }
};

}  // namespace tubwarden
