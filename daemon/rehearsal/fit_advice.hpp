// What a fitted tub suggests for its configuration: rates that portions begin with, limits of the
// mister, a band that mister and sensor can hold. Only what the history told is used. Sums:
// docs/model.md, "Fitted to a tub". Threading: pure. Failure: none; where nothing is to be said,
// nothing is.
#pragma once

#include <string>
#include <vector>

#include "core/climate/phase_plan.hpp"
#include "rehearsal/tub_fit.hpp"

namespace tubwarden::rehearsal {

struct FitAdvice {
  std::string actuator;   ///< whose key it is; empty: the phase's
  std::string key;        ///< "rate", "longest_run", "shortest_rest", "keep"
  std::string now;        ///< with its unit; empty: none is given
  std::string suggested;  ///< the same; empty: it may stay as it is
  std::string why;        ///< a sentence
};

struct FitAdviceFor {
  const ChamberPlan& chamber;
  const PhasePlan* phase = nullptr;  ///< whose bands are kept; nullptr: not known
  double celsius = 18.0;             ///< of the air in that history
  double humidity_pct = 87.0;        ///< likewise
  double reading_each_s = 10.0;      ///< of humidity
};

std::vector<FitAdvice> advise(const TubFit& fit, const FitAdviceFor& tub);

}  // namespace tubwarden::rehearsal
