// What the sensors of one air say now: which readings are live, fresh and believed, and one value a
// quantity.
// Threading: one owner. Failure: none; a quantity without a usable reading has no value.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/sensing/agreement.hpp"
#include "core/sensing/condensed_watch.hpp"
#include "core/sensing/doubt.hpp"
#include "core/sensing/rhythm.hpp"
#include "core/sensing/sensor_plan.hpp"
#include "core/sensing/spike_filter.hpp"
#include "core/sensing/still_watch.hpp"

namespace tubwarden {

/// One value for a quantity, from all its sensors.
struct Sensed {
  double value = 0.0;     ///< the median of the believed readings; in the quantity's kept unit
  double highest = 0.0;   ///< the highest of them
  bool at_least = false;  ///< some sensor stands at the top of its range
  Instant seen{};         ///< of the newest
};

/// A reading that a sensor on change only has not taken back for so long is confirmed.
inline constexpr Duration kSilenceConfirms = minutes(2);

class AirState {
 public:
  AirState(std::vector<SensorPlan> sensors, Instant now);

  /// A reading. Retained ones are kept to be shown and never become usable: their age is unknown.
  /// False where a live one is held until the next confirms it.
  bool reading(std::size_t sensor, Quantity quantity, double value, bool retained, bool at_least,
               Instant taken, Instant now);
  /// Judges which readings are to be believed, by what the outputs did meanwhile. To be called
  /// before the values of a turn are asked for. `pushes` are those that may still tell something.
  void judge(std::span<const Push> pushes, bool misting, Instant now);
  /// The sensor's own will: lost until its next live reading.
  void gone(std::size_t sensor);
  /// The broker left or came back: no reading from before is usable again, and no sensor is called
  /// stale for the time the broker was away.
  void broker(bool up, Instant now);
  /// A new plan from now; sensors whose readings mean the same as before keep them.
  void adopt(std::vector<SensorPlan> sensors, Instant now);

  /// The usable value of a quantity, or nothing: absent, stale, late, retained, gone, from before
  /// an outage, or not believed.
  std::optional<Sensed> usable(Quantity quantity, Instant now) const;
  /// The highest live reading: what a ceiling is judged by. Of sensors that disagree the hottest
  /// counts; one that is not believed for another reason does not.
  std::optional<double> hottest(Quantity quantity, Instant now) const;
  /// Why a live reading of this sensor drives nothing; none also where it has none.
  Doubt doubt(std::size_t sensor, Quantity quantity, Instant now) const;
  /// What it last said, live and taken.
  std::optional<double> last_value(std::size_t sensor, Quantity quantity) const;
  /// Readings that were held and never confirmed, since the start.
  std::uint64_t spikes(std::size_t sensor) const;
  /// The sensor's own median interval, once it is learned.
  std::optional<Duration> interval(std::size_t sensor) const;
  /// Since when one has stood still, been at the top, or disagreed: what its doubt is about.
  std::optional<Instant> doubted_since(std::size_t sensor, Quantity quantity) const;
  /// The newest reading of a quantity however old, to be shown.
  std::optional<Sensed> newest(Quantity quantity) const;
  /// The smallest change that the finest of its sensors tells.
  double quantum(Quantity quantity) const;
  /// Whether any sensor of the plan carries the quantity.
  bool planned(Quantity quantity) const;
  /// Whether a sensor, or one of its quantities, has been silent for longer than its limit (or
  /// said it is gone).
  bool stale(std::size_t sensor, Instant now) const;
  bool silent(std::size_t sensor, Quantity quantity, Instant now) const;
  bool is_gone(std::size_t sensor) const;
  /// Whether every quantity of the sensor has been heard live since we have listened, and it has
  /// not said it is gone since.
  bool heard(std::size_t sensor) const;
  /// Since when a sensor has been silent: the newest live reading of its most silent quantity, or
  /// since we have listened.
  Instant silent_since(std::size_t sensor) const;
  /// The next moment at which a fresh reading turns stale.
  std::optional<Instant> next_staling(Instant now) const;

  const std::vector<SensorPlan>& sensors() const { return sensors_; }

 private:
  struct Slot {
    bool seen_any = false;
    bool live = false;
    bool at_least = false;
    double value = 0.0;
    Instant taken{};
    std::optional<Instant> heard;  ///< the newest live reading since we have listened
    Doubt doubt = Doubt::none;     ///< as judged last; never late, which the clock says
    SpikeFilter filter;
    StillWatch still;
    Instant stuck_at{};  ///< where it stood when it was found stuck
    AgreementTimer agreement;
  };
  struct SensorState {
    std::array<Slot, kQuantities> slots{};
    bool gone = false;
    Instant listening_since{};
    Rhythm rhythm;
    Instant spoke{};  ///< when its last live message came
    CondensedWatch wet;
  };
  Instant silent_since(std::size_t sensor, Quantity quantity) const;
  bool fresh(std::size_t sensor, const Slot& slot, Instant now) const;
  bool late(std::size_t sensor, Instant now) const;
  void unheard(SensorState& state);
  void settle(std::size_t sensor, Instant now);
  void judge_alone(std::size_t sensor, std::span<const Push> pushes, Instant now);
  void judge_together(Quantity quantity, Instant now);
  template <class Accept>
  std::optional<Sensed> combine(Quantity quantity, Accept accept) const;

  std::vector<SensorPlan> sensors_;
  std::vector<SensorState> states_;
};

}  // namespace tubwarden
