// Judges a scene by its wires: no run without a command, none longer than whatever kept it, all at
// rest in the end. Threading: pure functions. Failure: a sentence for each promise that was broken.
#pragma once

#include <string>
#include <vector>

#include "fault/campaign/plan.hpp"
#include "fault/campaign/stage.hpp"

namespace tubwarden::campaign {

struct Verdict {
  std::vector<std::string> broken;
  int runs = 0;    ///< that were looked at
  int breaks = 0;  ///< faults that met a running output
  /// From the fault to the safe output: the worst where one fault came alone, and of its lease.
  double worst_s = 0, worst_of_lease = 0;
};

Verdict judge(const Scene& scene, const Played& played);

}  // namespace tubwarden::campaign
