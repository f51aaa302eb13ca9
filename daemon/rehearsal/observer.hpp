// What somebody who looks on sees of a rehearsed world, as it happens.
// Threading: called by the world's owner, within its run(). Failure: none; it must not touch the
// world.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "core/alert/alert.hpp"
#include "core/climate/phase_plan.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden::rehearsal {

using Bands = std::array<std::optional<Band>, kQuantities>;

class Observer {
 public:
  virtual ~Observer() = default;

  // Times are since the world's start.
  /// A step of the model, `lasted_s` long, has ended; `truth` by index_of(Quantity).
  virtual void passed(Duration at, double lasted_s,
                      const std::array<double, kQuantities>& truth) = 0;
  /// What is kept from now on; an edge that could not be left is infinite.
  virtual void kept(Duration at, const Bands& bands) = 0;
  virtual void heard(Duration at, std::size_t sensor, Quantity quantity, double value) = 0;
  /// `rate`: what it really moves at full level, in its effect's unit.
  virtual void switched(Duration at, std::size_t actuator, Level level, double rate) = 0;
  virtual void alerted(Duration at, const AlertChange& change) = 0;
  virtual void entered(Duration at, const std::string& tub, const std::string& phase) = 0;
  virtual void watered(Duration at, double grams) = 0;
};

}  // namespace tubwarden::rehearsal
