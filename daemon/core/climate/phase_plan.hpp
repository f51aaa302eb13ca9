// What a profile says of a phase: bands to keep, limits to warn at, air to exchange, light,
// duration. Threading: plain values. Failure: none; settings has checked what is here.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/air/derived.hpp"

namespace tubwarden {

/// A closed interval in the quantity's kept unit; low < high.
struct Band {
  double low = 0.0;
  double high = 0.0;
  constexpr double width() const { return high - low; }
  constexpr double middle() const { return (low + high) / 2.0; }
  bool operator==(const Band&) const = default;
};

/// `keep: [low, high]`, `keep_above: X` (humidity, the raising half of [X, 100 %]) or
/// `keep_below: X` (CO2, the lowering half of [room, X]).
struct Keep {
  enum class Form { between, above, below };
  Form form = Form::between;
  double low = 0.0;   ///< between, above
  double high = 0.0;  ///< between, below
  bool operator==(const Keep&) const = default;
};

/// Where the grower is told: outside [below, above] for longer than the delay.
struct Warn {
  std::optional<double> below;
  std::optional<double> above;
  Duration on_delay = minutes(10);
  /// Told when it is to leave the band within this; nothing: not told.
  std::optional<Duration> leaving_within{};
  Duration off_delay = minutes(1);  ///< it returns once it has been inside for so long, ...
  double deadband = 0.0;            ///< ... and by so much
  bool operator==(const Warn&) const = default;
};

struct QuantityPlan {
  std::optional<Keep> keep;
  std::optional<Warn> warn;
  Duration glide{0};  ///< time in which the band moves from what was to what is asked
  bool operator==(const QuantityPlan&) const = default;
};

/// What follows from humidity and temperatures: warned of, and kept through the humidity it means.
struct DerivedPlan {
  std::optional<Band> keep;  ///< in the unit of the derived value
  std::optional<Warn> warn;
  bool operator==(const DerivedPlan&) const = default;
};

/// `fresh_air: {at_least: {changes: 1, every: 15m}}`
struct FreshAirFloor {
  double changes = 0.0;
  Duration every{0};
  bool operator==(const FreshAirFloor&) const = default;
};

/// Light between two local times of day; `from` > `to` runs over midnight.
struct LightHours {
  int from_minute = 0;
  int to_minute = 0;
  bool operator==(const LightHours&) const = default;
};

struct Expect {
  std::optional<Duration> from, to, late;
  bool operator==(const Expect&) const = default;
};

/// A reading that must have been beyond a limit without a gap: under `below`, over `above`, or
/// between both.
struct NextCondition {
  std::optional<double> below, above;
  Duration lasting = minutes(10);
  bool operator==(const NextCondition&) const = default;
};

/// When a phase is over, as its plan has it: after a time, by what is read, or both.
struct NextPlan {
  enum class How { ask, go };
  std::optional<Duration> after;
  std::array<std::optional<NextCondition>, kQuantities> when;  ///< by index_of(Quantity); all hold
  How how = How::ask;

  /// False: `next` is a suggestion, and nothing is due.
  bool judged() const {
    for (const auto& condition : when) {
      if (condition) return true;
    }
    return after.has_value();
  }
  bool operator==(const NextPlan&) const = default;
};

struct PhasePlan {
  std::string name;
  /// The phase that the loop of flushes begins with, of which this one is a later stage; or empty.
  std::string stage_of;
  std::array<std::optional<QuantityPlan>, kQuantities> quantities;  ///< by index_of(Quantity)
  std::array<std::optional<DerivedPlan>, kDerived> derived;         ///< by index_of(Derived)
  std::optional<FreshAirFloor> fresh_air;
  std::optional<LightHours> light;
  std::optional<Duration> surface_wet_warn;    ///< told when surfaces have been wet for so long
  std::optional<Duration> dry_after_watering;  ///< the mister rests and the fan dries, at most
  Expect expect;
  std::string next;
  NextPlan next_plan;
  Duration settle_temperature = hours(12);  ///< warn limits of temperatures wait this long
  Duration settle_other = hours(1);         ///< those of humidity and CO2 this long

  const std::optional<DerivedPlan>& of(Derived d) const { return derived[index_of(d)]; }
  const std::optional<QuantityPlan>& of(Quantity q) const { return quantities[index_of(q)]; }
  bool operator==(const PhasePlan&) const = default;
};

/// The phases the design knows; a profile may add its own.
inline constexpr const char* kPhaseEmpty = "empty";
inline constexpr const char* kPhaseGrain = "grain";
inline constexpr const char* kPhaseColonization = "colonization";
inline constexpr const char* kPhaseCasing = "casing";
inline constexpr const char* kPhasePinning = "pinning";
inline constexpr const char* kPhaseFruiting = "fruiting";

struct Profile {
  std::string name;
  std::vector<PhasePlan> phases;
  std::string text;  ///< the file as read: the batch keeps a stamped copy

  const PhasePlan* find(const std::string& phase) const {
    for (const PhasePlan& p : phases) {
      if (p.name == phase) return &p;
    }
    return nullptr;
  }
};

}  // namespace tubwarden
