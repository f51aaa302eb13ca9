// Warm time: days as mycelium counts them, each at the pace that its temperature allows.
// Threading: pure. Failure: none; time whose temperature nobody knows runs at the assumed one, and
// its share is told.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/time.hpp"
#include "core/air/units.hpp"

namespace tubwarden {

/// Where growth begins, is fastest, and ends.
struct CardinalTemperatures {
  Celsius least, best, most;
};
/// Of A. bisporus mycelium. Best 23 to 25 C and limited growth near 3 C: Mohammadi Goltapeh et al.,
/// in Symbiotic Fungi (Springer, Soil Biology), p. 410. The end lies between 32.2 C, where damage
/// begins, and 35.6 C, the thermal death limit: Stamets & Chilton, The Mushroom Cultivator, 1983,
/// p. 166. Put together from the two, not fitted to a measurement.
inline constexpr CardinalTemperatures kMycelium{{3.0}, {25.0}, {34.0}};

/// The cardinal temperature model with inflection of Rosso, Lobry & Flandrois, J. Theor. Biol. 162
/// (1993) 447-463, as a share of the pace at its best, 0..1:
/// (T - Tx)(T - Tn)^2 / {(To - Tn)[(To - Tn)(T - To) - (To - Tx)(To + Tn - 2 T)]}, 0 outside
/// Tn..Tx.
double growth_pace(Celsius t, const CardinalTemperatures& at = kMycelium);

/// How many warm days a day at this temperature is.
using Pace = double (*)(Celsius);
double mycelium_pace(Celsius t);

/// One step of a temperature's history; it holds until the next. Nothing: not known.
struct TemperatureStep {
  WallTime from;
  std::optional<Celsius> t;
};

/// Warm days, by a pace, from an origin on: along the history until `now`, and at `ahead` from
/// there.
class WarmTime {
 public:
  /// `history` by time; what lies before `from` only gives the temperature at `from`.
  WarmTime(std::span<const TemperatureStep> history, WallTime from, WallTime now, Celsius ahead,
           Pace pace = mycelium_pace);

  double days_at(WallTime t) const;  ///< 0 before the origin
  double days_now() const { return knots_.back().warm_days; }
  /// When so many warm days are over; nothing where growth stands still for good, or where that is
  /// more than ten years off.
  std::optional<WallTime> reached(double warm_days) const;
  /// How much of the time from origin to now has a known temperature, 0..1; 1 where none passed.
  double known_share() const { return known_share_; }

 private:
  struct Knot {
    WallTime at;
    double warm_days;
  };
  std::vector<Knot> knots_;  ///< by time, never empty; between two the pace is even
  double pace_ahead_;
  double known_share_ = 1.0;
};

}  // namespace tubwarden
