// The chamber's actuators as the model feels them: each level times its rate, summed by effect.
// Threading: one owner, plain values. Failure: none; an actuator without a rate has a usual one.
#pragma once

#include <optional>
#include <vector>

#include "core/chamber/chamber_plan.hpp"
#include "rehearsal/model.hpp"

namespace tubwarden::rehearsal {

/// Rates of actuators whose plan names none: g/h, m3/h, W (assumed, as small parts have them).
double usual_rate(Effect effect);

class Plant {
 public:
  /// Heat goes into the substrate where the chamber measures it, else into the air; or where
  /// `heats_substrate` says.
  explicit Plant(const ChamberPlan& chamber, std::optional<bool> heats_substrate = {});

  void set(std::size_t actuator, Level level) { parts_[actuator].level = level; }
  Level level(std::size_t actuator) const { return parts_[actuator].level; }
  /// A dead one draws its level and moves nothing: an empty tank, a stalled fan.
  void dead(std::size_t actuator, bool is_dead) { parts_[actuator].dead = is_dead; }
  void lid(bool open) { lid_open_ = open; }

  Drive drive() const;
  /// What it really moves, against the rate of its plan: 1 where they agree.
  void strength(std::size_t actuator, double share) { parts_[actuator].rate *= share; }
  double rate(std::size_t actuator) const { return parts_[actuator].rate; }

 private:
  struct Part {
    Effect effect;
    double rate;
    Level level = kRest;
    bool dead = false;
  };
  std::vector<Part> parts_;
  bool heats_substrate_ = false;
  bool lid_open_ = false;
};

}  // namespace tubwarden::rehearsal
