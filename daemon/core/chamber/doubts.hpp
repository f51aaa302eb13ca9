// Which sensors of an air are not believed, as views and alerts. Private to core/chamber.
// Threading: one owner. Failure: none.
#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "core/alert/alert.hpp"
#include "core/sensing/air_state.hpp"

namespace tubwarden {

/// The doubts of one sensor that are told for it alone; that two disagree is told by quantity.
struct SensorAlarms {
  AlertTimer jumping, stuck, condensed;
};

struct DoubtAlarms {
  std::map<std::string, SensorAlarms> sensors;  ///< by id
  std::array<AlertTimer, kQuantities> disagree;
};

/// One sentence without its subject: "has stood at 88 % since 20m, through a run that should have
/// moved it".
std::string doubt_words(const AirState& air, std::size_t sensor, Quantity q, Doubt doubt,
                        Instant now);

}  // namespace tubwarden
