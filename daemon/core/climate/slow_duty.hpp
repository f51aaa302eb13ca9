// Substrate temperature by a slow duty: the bed answers over hours, so a heater that runs until the
// middle is reached has long given too much. What rise the bed wants an hour is found from where it
// stands and how it moves, and given as a share of each period. Threading: one owner, plain values.
// Failure: none; before the first reading it asks for nothing.
#pragma once

#include <optional>

#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/climate/phase_plan.hpp"

namespace tubwarden {

/// K an hour that `watts` lift a substrate by, losses left out: 3.3 kJ/(kg K) (docs/model.md).
/// Of the usual 15 W under 5 kg where one of the two is not known (0).
double substrate_rise(double watts, double kg);

/// The law: proportional to where the bed will stand, with a held part that takes up what it loses.
class SlowDuty {
 public:
  /// What the outputs can do, K/h, already within their most; 0: no such output.
  struct Reach {
    double heat = 0.0;
    double cool = 0.0;
  };

  /// A usable reading stands at `value` until `now`; the held part learns from it where `learns`.
  /// Not while the outputs may not obey: what would be learned then is no loss of the bed's.
  void follow(double value, const Band& band, const Reach& reach, bool learns, Instant now);
  /// Readings of now say nothing of the bed; what is held stays.
  void forget() { told_.reset(); }

  bool known() const { return told_.has_value(); }
  /// K/h wanted: above 0 heats, below 0 cools. Within the reach; 0 while not known.
  double rise() const { return rise_; }
  /// K/h that hold the bed where it is, as far as learned.
  double held() const { return held_; }
  /// From an earlier run; what makes no sense is not taken.
  void held(double k_per_h);

 private:
  std::optional<Instant> told_;
  double near_ = 0.0;  ///< the reading, smoothed over minutes
  double far_ = 0.0;   ///< ... over longer: between the two stands how it moves
  double held_ = 0.0;
  double rise_ = 0.0;
};

/// One output's share of each period. A share too short for the shortest run is owed to the next.
class DutyCycle {
 public:
  struct Now {
    bool runs = false;
    Instant until{};  ///< of the run, or of the rest
    double share = 0.0;
  };
  /// `share` 0..1 counts at the begin of each period; `most` is the plan's. A period begun with
  /// nothing asked ends as soon as a share worth a run is.
  Now ask(double share, const DutyPlan& plan, Duration shortest_run, Instant now);
  /// The next ask begins a period, and nothing is owed.
  void reset() { *this = DutyCycle(); }

 private:
  std::optional<Instant> began_;
  Duration run_{0};
  Duration owed_{0};
  double share_ = 0.0;
};

}  // namespace tubwarden
