// What a chamber keeps for its water book between two turns. Private to core/chamber.
// Threading: one owner. Failure: none.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/grow/water_book.hpp"

namespace tubwarden {

struct WaterKeeping {
  WaterBook book;
  std::vector<std::string> missing;  ///< what the plan does not say; no account without it
  Instant kept_until{};
  /// What a cubic metre takes along, as of the last look.
  std::optional<double> taken_g_m3;
  double per_pct_g_m3 = 0.0;
  Instant looked{};
};

/// A casing lies in the tub, from the phase `casing` on, and in a profile's own phases.
bool has_casing(const std::string& phase);

}  // namespace tubwarden
