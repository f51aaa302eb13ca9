// The fit check: before the first plug, what of a configuration cannot work, and what would.
// Each line states its sum with its numbers; the sums are those of core/fit.
// Threading: pure. Failure: none; what the configuration leaves open is a line of its own.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/chamber/chamber_plan.hpp"

namespace tubwarden {

enum class FitMark {
  cannot,   ///< no setting of the daemon's makes it work
  tight,    ///< works at times, or with help
  unknown,  ///< the configuration does not say enough
  fits,
};
/// "cannot work", "tight", "not known", "fits".
std::string_view word_of(FitMark mark);

/// What a line is about.
enum class FitAbout {
  mist_step,   ///< what a mister's shortest run moves
  mist_reach,  ///< what its longest run moves
  mist_water,  ///< its water against what fresh air takes out
  wetting,     ///< whether anything raises humidity
  drying,      ///< whether anything lowers it
  fan_step,    ///< what a fan's shortest run moves
  floor,       ///< the fresh-air floor
  co2,         ///< the crop's breath
  warming,     ///< heat against the room
  cooling,     ///< cold against the room
  sensor,      ///< the band against the sensor's accuracy
  ceiling,     ///< the substrate's ceiling against the band
};
/// The key in JSON: "mist_step", ...
std::string_view name_of(FitAbout about);

struct FitLine {
  std::string tub;  ///< the tub whose section it stands in: the leader, for what is its air's
  FitAbout about = FitAbout::sensor;
  FitMark mark = FitMark::fits;
  /// For which phases it holds; the sum in `text` is that of the first, the worst of them.
  std::vector<std::string> phases;
  std::string text;  ///< sentences, with what would work where something does not
};

/// All lines, by tub in the plan's order, the worst first. A phase in which nothing grows, a
/// chamber without a leader and a tub without a profile have none.
std::vector<FitLine> fit_of(const GrowPlan& grow);

/// The lines as `tubwarden check` prints them: a section a tub, wrapped at 80 columns.
std::string fit_report(const std::vector<FitLine>& lines);

}  // namespace tubwarden
