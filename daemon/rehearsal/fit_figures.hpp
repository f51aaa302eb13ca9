// The figures of a fit: which take part, what is believed of them before, and how they set the
// model. Private to rehearsal. Threading: pure. Failure: none.
#pragma once

#include <span>
#include <vector>

#include "rehearsal/tub_fit.hpp"

namespace tubwarden::rehearsal {

/// Counted in logarithms where it cannot be negative.
struct FitAxis {
  FitOf of = FitOf::leak;
  double usual = 0.0;
  bool log = true;
  double doubt = 1.0;  ///< standard deviation of the prior: of the logarithm, or of the figure
  double value(double x) const;
  double prior() const;
};

/// The model, its room, begin and actuators at a point of the search.
struct FitPoint {
  ModelParameters model;
  RoomDay room;
  double mist = 1.0, fan = 1.0;  ///< share of the rates of the plan
  std::optional<double> bed_celsius;
};

/// What of the history bears on which figures take part.
struct FitSigns {
  std::array<bool, kQuantities> read{};  ///< a quantity with readings
  bool misted = false, aired = false;
  double air_celsius = 18.0;
};

std::vector<FitAxis> fit_axes(const FitOrder& order, const FitSigns& signs);
FitPoint fit_point(const FitOrder& order, std::span<const FitAxis> axes, std::span<const double> x);

/// The sum of the rates of one effect, as the model plays them.
double fit_rate(const ChamberPlan& chamber, Effect effect);

}  // namespace tubwarden::rehearsal
