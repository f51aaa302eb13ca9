// Steam and lethality: how hot a vessel is at its gauge pressure and altitude, what a time at a
// temperature kills, and how long a load is held. Never a pressure above the vessel's own: time is
// lengthened instead.
// Threading: pure functions. Failure: an Error with what is allowed.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "base/result.hpp"
#include "base/time.hpp"
#include "core/air/units.hpp"
#include "core/kitchen/sum.hpp"

namespace tubwarden {

/// IAPWS-IF97 region 4: water and its steam in balance, 273.15 K to 647 K.
double steam_pressure_mpa(double kelvin);
double steam_kelvin(double mpa);

/// The standard atmosphere at an altitude: 101325 x (1 - 2.25577e-5 m)^5.2559 Pa (ASHRAE
/// Fundamentals, chapter 1, equation 3).
Pascal standard_atmosphere(double metres);

inline constexpr double kLethalReference = 121.1;  ///< C: 250 F
inline constexpr double kLethalZ = 10.0;           ///< C: 18 F
/// Minutes at 121.1 C that a minute at `t` is worth: 10^((t - 121.1) / 10).
double lethal_rate(Celsius t);

struct Probed {
  Duration at{0};  ///< from any common origin
  Celsius t;
};
/// A longer gap is no sampling: the load may have fallen between.
inline constexpr Duration kLethalGapMost = minutes(5);
struct Lethality {
  double f0 = 0.0;  ///< minutes
  Duration lasted{0};
  Duration longest_gap{0};
  double hottest_c = 0.0;
};
/// F0 by the trapezoid of lethal rates. Refused: fewer than two readings, times that do not rise, a
/// gap above kLethalGapMost, temperatures outside -50..160 C.
Result<Lethality> lethality(std::span<const Probed> probe);
Result<Sum> lethality_sum(std::span<const Probed> probe);

/// F0 as it grows, reading by reading. What was not sampled is not counted: after a gap above
/// kLethalGapMost it goes on from the next reading.
class LethalityWatch {
 public:
  /// A reading that is not later than the one before is passed over.
  void add(const Probed& reading);
  const Lethality& so_far() const { return found_; }  ///< longest_gap: of those that count
  const std::optional<Probed>& last() const { return last_; }
  std::uint64_t readings() const { return readings_; }
  /// Time in gaps too long to count.
  Duration unsampled() const { return unsampled_; }
  /// The same as a sum to show.
  Sum sum(double f0_wanted) const;

 private:
  Lethality found_;
  std::optional<Probed> last_;
  std::uint64_t readings_ = 0;
  Duration unsampled_{0};
};

struct HoldWish {
  double gauge_kpa = 0.0;
  double altitude_m = 0.0;
  double f0 = 15.0;  ///< minutes wanted in the load
};
/// How hot the steam is, and how long the load's middle must have that temperature.
Result<Sum> hold_sum(const HoldWish& wish);

}  // namespace tubwarden
