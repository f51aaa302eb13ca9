// What the outputs' runs should have done to the air: the evidence against a sensor that stands
// still. Private to core/chamber. Threading: one owner, plain values. Failure: none; a run whose
// effect is not known is no evidence.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "base/time.hpp"
#include "core/climate/actuator_plan.hpp"
#include "core/sensing/still_watch.hpp"

namespace tubwarden {

/// What is expected of a run is taken at half: rates are nominal, lids leak, casings breathe
/// (common practice, no source). The air's temperature is held by walls and substrate.
inline constexpr double kPushShare = 0.5;
inline constexpr double kPushShareAirTemperature = 0.25;
/// What of a substrate and its water warms: 70 % water at 4.19 and 30 % straw at 1.4 kJ/(kg K)
/// (common practice, no source).
inline constexpr double kSubstrateKjKgK = 3.4;

/// The air a run acted on, as far as it is known.
struct RunAir {
  double litres = 0.0;
  std::array<std::optional<double>, kQuantities> value{};
  std::optional<double> room_celsius, room_humidity;
  double room_co2 = 0.0;
};

/// The least that a run of `lasted` at `share` of its rate should have moved each quantity it acts
/// on; from and to are left for the caller. Heat and cold act too slowly for one run.
std::vector<Push> pushes_of(const ActuatorPlan& actuator, double share, Duration lasted,
                            const RunAir& air);

/// Heat given less heat taken, in slots of ten minutes: whether the last hour got more of it than
/// the hour before.
class HeatBook {
 public:
  static constexpr Duration kSlot = minutes(10);
  static constexpr std::size_t kSlots = 12;

  /// Since the last call the heaters gave `watts` (coolers count below zero).
  void add(double watts, Instant now);
  /// kJ of the last hour less those of the hour before; nothing until both are whole.
  struct More {
    Instant from{}, to{};
    double kj = 0.0;
  };
  std::optional<More> more() const;

 private:
  void begin_slot(Instant at);

  std::optional<Instant> slot_, last_;
  std::array<double, kSlots> kj_{};  ///< whole slots, the newest last
  std::size_t whole_ = 0;
  double current_ = 0.0;
};

/// The runs of late, as pushes.
class Evidence {
 public:
  static constexpr std::size_t kKept = 64;

  void add(Push push, Instant now);
  void add(const std::vector<Push>& pushes, Instant from, Instant to, Instant now);
  std::span<const Push> pushes() const { return pushes_; }
  void clear() { pushes_.clear(); }
  HeatBook heat;

 private:
  std::vector<Push> pushes_;
};

}  // namespace tubwarden
