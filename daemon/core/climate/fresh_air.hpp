// The fan and its masters: each calls, forbids or is silent; the first that is not silent decides.
// And the fresh-air floor: so many air changes each so often, whoever asked for them.
// Threading: one owner, plain values. Failure: none.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string_view>

#include "base/time.hpp"
#include "core/climate/phase_plan.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

enum class FanMaster { ceiling, co2, humidity_high, temperature, floor };
inline constexpr std::size_t kFanMasters = 5;
std::string_view name_of(FanMaster master);

enum class Say { silent, calls, forbids };

/// What each master says, by its enumerator.
using FanSays = std::array<Say, kFanMasters>;

/// The order of a phase: pinning, fruiting and a profile's own phases put CO2 and humidity before
/// temperature; grain, colonization and casing know no call for CO2.
std::span<const FanMaster> fan_order(const std::string& phase);

struct FanDecision {
  bool run = false;
  std::optional<FanMaster> master;  ///< who decided; nothing when all were silent
};
FanDecision decide_fan(std::span<const FanMaster> order, const FanSays& says);

/// How long a fan must run for the floor's air changes: changes x volume / rate.
/// litres > 0, rate in m3/h > 0.
Duration floor_run(double changes, double litres, double m3_per_hour);

/// The floor as a timer behind demand: it starts as late in each window as still does the work, so
/// that air moved for any master counts.
class FloorClock {
 public:
  /// Windows are counted from `first`, the beginning of the phase: a restart does not put the
  /// floor off. What was moved before `now` in the window that runs is not known.
  void begin(Instant first, Instant now);
  /// The level at which the fan moved air up to now, to be told at every turn before ask().
  void moved(Level level, Instant now);

  struct Need {
    bool calls = false;
    Duration left{0};       ///< run still owed in this window
    Instant next_change{};  ///< when the answer changes by itself
  };
  /// `run` owed in each `every`. A run longer than the window calls always.
  Need ask(Duration run, Duration every, Instant now);
  /// What is owed by now where the run is spread evenly over the window. Not negative.
  Duration owed_evenly(Duration run, Duration every, Instant now);

 private:
  void roll(Duration every, Instant now);
  Instant window_{};
  Instant told_{};
  Duration moved_x1000_{0};  ///< time x permille, so that nothing is lost by rounding
};

}  // namespace tubwarden
