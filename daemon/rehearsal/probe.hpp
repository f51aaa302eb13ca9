// A sensor of one quantity: the lagging truth, with noise, in steps. Threading: one owner.
// Failure: none; a sensor shows something always, its death is the world's to play.
#pragma once

#include <cstdint>

#include "rehearsal/dice.hpp"
#include "rehearsal/model.hpp"

namespace tubwarden::rehearsal {

class Probe {
 public:
  Probe(Quantity quantity, SensorTrait trait, std::uint64_t seed)
      : quantity_(quantity), trait_(trait), dice_(seed) {}

  /// In the quantity's kept unit. Humidity stays within 0..100, CO2 above 0.
  double sample(const ChamberModel& model);
  Quantity quantity() const { return quantity_; }

 private:
  Quantity quantity_;
  SensorTrait trait_;
  Dice dice_;
};

}  // namespace tubwarden::rehearsal
