// A file of faults for a rehearsal: what goes wrong, where, when and for how long. Checked against
// the folder it is played with. Threading: pure. Failure: findings, each with its line.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/chamber/chamber_plan.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

/// What a fault is one of: it decides which keys it takes.
enum class FaultPlace { sensor, actuator, air, site };

struct FaultLine {
  std::string fault;  ///< one of the words of the option table
  int line = 0;       ///< where it stands in its file
  FaultPlace place = FaultPlace::site;
  std::string chamber;    ///< empty: in each air
  std::size_t index = 0;  ///< of the sensor or actuator in that chamber
  std::string part;       ///< its name
  Duration at{0}, lasts{0};
  double amount = 0.0;  ///< drift, kept unit a day; or the clock's error, seconds
  std::optional<Quantity> quantity;
};

inline constexpr std::size_t kFaultsMax = 1000;

/// Where a fault of this word happens; nothing for a word that the table does not have.
std::optional<FaultPlace> fault_place(std::string_view word);

/// `file` is its name for findings. What comes back after an error is not used.
std::vector<FaultLine> read_faults(const std::string& text, const std::string& file,
                                   const GrowPlan& grow, std::vector<Finding>& findings);

}  // namespace tubwarden
