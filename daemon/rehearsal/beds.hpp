// What stands in an air through a whole grow: jars, a covered spawn run, a wet casing, flushes that
// grow and are picked, and the water given to it. Figures and sources: docs/model.md, "A grow".
// Threading: pure functions. Failure: none.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/chamber/chamber_plan.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

/// A phase that a tub is in from a time to a time, since the start.
struct Stage {
  std::string phase;
  Duration from{0}, to{0};
  int flush = 0;         ///< of a loop with stages; 0: the phase has none, or runs through them all
  bool by_plan = false;  ///< the chamber's own plan goes on to it; `from` is as foreseen
};

/// A tub or shelf, and the phases it goes through; they follow each other without a gap.
struct Walk {
  std::string tub;
  bool leads = false;
  std::vector<Stage> stages;
};

/// The crop of one tub, so long after its phase began. A phase of the profile's own counts as a
/// wet casing.
/// With a `flush` the phase is that one alone; without, one follows the other.
CropParameters crop_in(const TubPlan& tub, const std::string& phase, Duration since, int flush = 0);

/// Tubs in one air add up to one bed.
void add_crop(CropParameters& all, const CropParameters& one);

/// Whether the model knows what such a phase's bed is like.
bool knows_phase(const std::string& phase);

/// When a casing is watered, second of the day.
inline constexpr double kWateredAtS = 8 * 3600.0;

/// The bed of an air at each time at which it changes, the first at 0. The net volume is the
/// leader's phase's.
std::vector<BedStep> beds_of(const ChamberPlan& chamber, const std::vector<TubPlan>& tubs,
                             const std::vector<Walk>& walks, double start_second_of_day);

}  // namespace tubwarden::rehearsal
