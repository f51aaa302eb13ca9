// What a trial run of one output showed: whether the output confirmed it, and what the air did.
// Threading: one owner, plain values. Failure: none; what nothing measures is said.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"

namespace tubwarden {

/// The air is watched this long after the run: a mist settles and a sensor follows within it
/// (common practice, no source).
inline constexpr Duration kTrialAirWatch = seconds(120);
/// Once the air has moved, its further way is watched this long.
inline constexpr Duration kTrialFollow = seconds(15);

class TrialWatch {
 public:
  struct Before {
    /// The air at the start, in the kept units; nothing where it is not read.
    std::array<std::optional<double>, kQuantities> air{};
    /// The smallest changes its sensors can tell, in the kept units.
    std::array<std::optional<double>, kQuantities> step{};
    bool confirms = false;  ///< the output has a confirmation of its own
  };

  TrialWatch(ActuatorPlan plan, Before before, Instant began, Duration run);

  void confirmed(Level level, Instant now);
  void reading(Quantity quantity, double value, Instant now);
  /// Another output of this air runs meanwhile; what moves may be its doing.
  void other_runs(const std::string& id);

  /// When there is nothing more to be learned; earlier as more is known.
  Instant over_at() const;
  /// Whether the run went as it should, as far as anything can tell.
  bool good() const;
  /// "mister ran for 3s: it confirmed running after 0.4s and rest 0.2s after its end; humidity went
  /// from 86.1 to 88.4 % within 40s." One or two sentences.
  std::string told() const;

 private:
  struct Moved {
    double value = 0.0;  ///< the farthest from the start so far
    Instant at{};
  };
  bool moved(Quantity quantity) const;
  bool expected(Quantity quantity) const;
  bool any_expected_read() const;
  bool any_moved() const;
  std::string confirmation_told() const;
  std::string air_told() const;

  ActuatorPlan plan_;
  Before before_;
  Instant began_;
  Duration run_;
  std::vector<std::string> others_;
  std::optional<Instant> ran_, rested_, first_moved_;
  std::array<std::optional<Moved>, kQuantities> farthest_{};
};

}  // namespace tubwarden
