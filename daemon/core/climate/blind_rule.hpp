// What an actuator does while its quantity has no trusted reading: it stands safe, or it repeats
// the share of the time that it ran during the last day, in short runs. Threading: one owner, plain
// values. Failure: none; without a day to repeat it says so, and the actuator stands safe.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"

namespace tubwarden {

/// A blind actuator never runs for more than this share of the time, whatever it did before.
inline constexpr double kBlindShareMost = 0.3;
/// Of what water was given or taken only so much is repeated: half a day that is warmer or calmer
/// than the last needs less, and too dry is mended sooner than too wet.
inline constexpr double kBlindWaterShare = 0.5;
/// After so long without a trusted reading nothing is repeated: the day is another.
inline constexpr Duration kBlindLongest = hours(12);
/// A share is learned from at least this much time with trusted readings.
inline constexpr Duration kBlindLearnedFrom = hours(6);
/// A run that would come more seldom than this is none: the actuator stands safe.
inline constexpr Duration kBlindPeriodMost = hours(6);

/// How long an actuator ran in the last day of trusted readings, by hours.
class DutyBook {
 public:
  static constexpr std::size_t kHours = 24;

  /// Time passed in which it stood at `level`; `counts`: its quantity was trusted and nothing but
  /// its rules moved it.
  void add(Duration passed, Level level, bool counts);
  /// What an earlier run of the daemon knew; gives way to what is learned.
  void known(double share) { known_ = share; }
  /// 0..1, uncapped; nothing until enough is known.
  std::optional<double> share() const;
  /// Of all time ever, in full runs.
  Duration ran() const { return ran_; }

 private:
  struct Hour {
    Duration ran{0}, watched{0};
  };
  std::array<Hour, kHours> hours_{};  ///< the newest at `newest_`
  std::size_t newest_ = 0;
  Duration ran_{0};
  std::optional<double> known_;
};

/// One time without a trusted reading.
struct BlindSpell {
  Instant since{};
  Instant from{};          ///< the share counts from here
  double share = 0.0;      ///< that is repeated, as blind_share() has it
  double learned = 0.0;    ///< ... of this
  Duration ran_before{0};  ///< DutyBook::ran() then
};

/// How long a run of a blind actuator is: its shortest, or what its effect is usually run for
/// (heaters slowly, a mist briefly). Nothing where it would come too seldom, or its limits leave no
/// room for it. `share` as blind_share() has it.
std::optional<Duration> blind_run(Effect effect, const RunLimits& limits, double share);

/// Whether a run may begin now, and when else: the time run in this spell stays at or below the
/// share of the time passed. `run` as above.
struct BlindAsk {
  bool run = false;
  Instant next{};  ///< where it may not: when it may
};
BlindAsk ask_blind(const BlindSpell& spell, Duration run, Duration ran, Instant now);

/// The share that is repeated of one that was learned: half of it with water, and capped.
double blind_share(Effect effect, double learned);

}  // namespace tubwarden
