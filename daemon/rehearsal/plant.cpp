#include "rehearsal/plant.hpp"

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {

double usual_rate(Effect effect) {
  switch (effect) {
    case Effect::humidify:
      return 100.0;
    case Effect::dehumidify:
      return 20.0;
    case Effect::heat:
      return 15.0;
    case Effect::cool:
      return 30.0;
    case Effect::fresh_air:
      return 2.0;
    case Effect::stir:
      return 5.0;
    case Effect::light:
      return 5.0;
  }
  ENSURE(false);
}

Plant::Plant(const ChamberPlan& chamber, std::optional<bool> heats_substrate) {
  for (const ActuatorPlan& a : chamber.actuators) {
    parts_.push_back({a.effect, a.rate.value_or(usual_rate(a.effect))});
  }
  for (const SensorPlan& sensor : chamber.sensors) {
    for (const QuantitySource& source : sensor.quantities) {
      heats_substrate_ = heats_substrate_ || source.quantity == Quantity::substrate_temperature;
    }
  }
  heats_substrate_ = heats_substrate.value_or(heats_substrate_);
}

Drive Plant::drive() const {
  Drive drive;
  drive.lid_open = lid_open_;
  for (const Part& part : parts_) {
    if (part.level == kRest || part.dead) continue;
    const double amount = part.rate * part.level / kRun;
    switch (part.effect) {
      case Effect::humidify:
        drive.mist_g_h += amount;
        break;
      case Effect::dehumidify:
        drive.dry_g_h += amount;
        break;
      case Effect::heat:
        (heats_substrate_ ? drive.heat_substrate_w : drive.heat_air_w) += amount;
        break;
      case Effect::cool:
        drive.cool_w += amount;
        break;
      case Effect::fresh_air:
        drive.fan_m3_h += amount;
        drive.fan = true;
        break;
      case Effect::stir:
        drive.stir = true;
        break;
      case Effect::light:
        drive.lamp_w += amount;
        break;
    }
  }
  return drive;
}

}  // namespace tubwarden::rehearsal
