// The temperature that jars and beds have stood in: their stays, joined with where their shelf or
// tub stood, joined with that air's history. For the files of this room only.
// Threading: the loop's thread; `done` is called once, now or later. Failure: what is not in the
// record stays unknown; an error of the record ends it.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "core/forecast/warm_time.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

/// A time on one shelf or in one tub, [from, to).
struct StoodOn {
  std::string tub;
  WallTime from{}, to{};
};

/// What was gathered, to be joined for each thing that stood somewhere.
class PastWarmth {
 public:
  /// A jar's air by hours, oldest first.
  std::vector<TemperatureStep> air(const std::vector<StoodOn>& stays) const;
  /// A bed's substrate; where none was measured, its air and what substrate is usually above it.
  std::vector<TemperatureStep> bed(const std::vector<StoodOn>& stays) const;

 private:
  friend class PastAsked;
  using Steps = std::vector<TemperatureStep>;
  std::vector<TemperatureStep> joined(const std::vector<StoodOn>& stays,
                                      Steps (PastWarmth::*of)(const std::string& chamber)
                                          const) const;
  Steps air_of(const std::string& chamber) const;
  Steps bed_of(const std::string& chamber) const;
  std::map<std::string, std::vector<PlacementRow>> placements_;  ///< by tub
  std::map<std::string, History> histories_;                     ///< by chamber
};

/// Asks the record for all of it: each tub's placements once, each air once.
void gather_warmth(Warden::State& s, std::vector<StoodOn> stays,
                   std::function<void(Result<PastWarmth>)> done);

}  // namespace tubwarden
