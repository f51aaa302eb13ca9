// A reading against its band, drawn as one line of ruled paper with a mark on it.
// Threading: pure functions. Failure: none.
#pragma once

#include <optional>
#include <string>

namespace tubwarden::cli {

struct Reading {
  std::optional<double> value;
  std::optional<double> keep_low, keep_high;  ///< both or none
  std::optional<double> warn_low, warn_high;
  bool low_is_fine = false;   ///< `keep_below`: nothing is wrong below the band
  bool high_is_fine = false;  ///< `keep_above`: the band ends where the quantity ends
  double least = -1e9;        ///< what the quantity can be at all
  double most = 1e9;
};

enum class Stand { unjudged, inside, below, above, too_low, too_high };
Stand stand_of(const Reading& reading);
const char* word_of(Stand stand);

/// `cells` columns: the band ruled between its edges, the warn limits, and the mark where the
/// reading stands. Without a band or limits: spaces.
std::string ruler(const Reading& reading, int cells, bool utf8);

}  // namespace tubwarden::cli
