// One air under control: step(event, now) -> effects. It reads, judges, decides and alerts; it
// touches no clock, thread or file, so the rehearsal runs this very code. Threading: one owner.
// Failure: none to report; what it cannot do stands in its views as a sentence.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/alert/alert.hpp"
#include "core/chamber/chamber_plan.hpp"
#include "core/chamber/hand.hpp"
#include "core/chamber/water_view.hpp"
#include "core/climate/air_forecast.hpp"
#include "core/climate/kept_climate.hpp"
#include "core/sensing/doubt.hpp"

namespace tubwarden {

/// The phase truth of one tub in this air, as the record has it.
struct TubPhase {
  std::string tub;
  std::string phase;  ///< empty: not confirmed by anybody, the outputs stay safe
  Instant since{};    ///< when the phase began; may lie before this boot
  /// Where each quantity's glide started, if it already has.
  std::array<std::optional<double>, kQuantities> glide_from{};
  /// The plan went on from it once and was taken back: now it asks.
  bool asks_only = false;
};

namespace event {
/// A value of one of the chamber's sensors, in the quantity's kept unit, inside its range.
struct Reading {
  std::size_t sensor = 0;  ///< index into ChamberPlan::sensors
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
  bool retained = false;  ///< of unknown age: shown, never acted upon
  bool at_least = false;  ///< the sensor stands at the top of its range
  Duration age{0};        ///< by the payload's own time stamp
};
/// What one message of a sensor carries: taken together, and judged once.
struct Message {
  std::array<Reading, kQuantities> readings{};
  std::size_t count = 0;
  void add(const Reading& reading) { readings[count++] = reading; }
};
/// The sensor's own will was heard: it is lost at once.
struct SensorGone {
  std::size_t sensor = 0;
};
enum class RoomQuantity { temperature, humidity, co2 };
struct RoomReading {
  RoomQuantity quantity = RoomQuantity::temperature;
  double value = 0.0;
  bool retained = false;
};
struct BrokerUp {};
/// Readings from before an outage drive nothing after it.
struct BrokerDown {};
/// Whether an actuator's driver obeys; `why` is a sentence when it does not.
struct OutputUsable {
  std::size_t actuator = 0;
  bool usable = true;
  std::string why;
};
struct PhaseIs {
  TubPhase phase;
};
/// The local second of the day, for light hours; nothing while the clock is unset.
struct LocalTime {
  std::optional<int> second_of_day;
};
/// A hand is taken; it ends by itself. One of the same kind and output gives way to it.
struct HandOn {
  Hand hand;
};
/// A hand ends before its time.
struct HandOff {
  HandKind kind = HandKind::attend;
  std::string actuator;
};
/// What an earlier run had learned of a mister and the sensor it is judged by, once, after a start.
struct MistKnown {
  std::string actuator;
  AirForecast::Learned learned;
};
/// What an earlier run had learned of the rise that holds the substrate, once, after a start.
struct DutyKnown {
  std::string actuator;
  double k_per_h = 0.0;
};
/// A casing was watered by hand, just now.
struct Watered {
  std::string tub;
  double millilitres = 0.0;
};
/// A mister's tank was filled, just now.
struct Refilled {
  std::string actuator;
};
/// The water book of an earlier run, as it was `ago`; once, after a start.
struct BookKnown {
  std::shared_ptr<const WaterBookState> book;
  Duration ago{0};
};
/// What an earlier run had seen of an actuator whose blind rule is duty: its share of a day, 0..1.
struct BlindKnown {
  std::string actuator;
  double share = 0.0;
};
struct Tick {};
}  // namespace event

using Event = std::variant<event::Reading, event::Message, event::SensorGone, event::RoomReading,
                           event::BrokerUp, event::BrokerDown, event::OutputUsable, event::PhaseIs,
                           event::LocalTime, event::HandOn, event::HandOff, event::MistKnown,
                           event::DutyKnown, event::BlindKnown, event::Watered, event::Refilled,
                           event::BookKnown, event::Tick>;

struct OutputCommand {
  std::size_t actuator = 0;  ///< index into ChamberPlan::actuators
  Level level = kRest;
  Duration run{0};    ///< 0: holds while leased; else the host ends it by itself
  bool safe = false;  ///< this is the actuator's safe level, not a decision to run
};

/// A glide found its start: to be kept in the record, so that it survives a restart.
struct GlideStart {
  std::string tub;
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
};

/// What is learned of a mister and its sensor has moved on: to be kept in the record.
struct MistLearned {
  std::string actuator;
  AirForecast::Learned learned;
};

/// What holds the substrate where it is, K/h, has moved on: to be kept in the record under one of
/// the outputs that do it.
struct DutyLearned {
  std::string actuator;
  double k_per_h = 0.0;
};

/// An output stands at another level, or for another reason, than before.
struct Decision {
  std::size_t actuator = 0;
  Level level = kRest;
  std::string why;  ///< one sentence
  /// The run that ended by it: its level and length.
  struct Ended {
    Level level = kRest;
    Instant began{};
  };
  std::optional<Ended> ended;
};

/// A phase is over by its plan, which goes on by itself; told at each turn until the phase changes.
struct PhaseDue {
  std::string tub, to;
  std::string why;  ///< "it has lasted 14d"
};

/// What the shell is to do, in this order: outputs, alerts, records. Empty vectors mean nothing to
/// do.
struct Effects {
  std::vector<OutputCommand> outputs;
  std::vector<AlertChange> alerts;
  std::vector<GlideStart> glides;
  std::vector<MistLearned> learned;
  std::vector<DutyLearned> duties;
  std::vector<Decision> decisions;
  std::vector<Hand> hands_over;  ///< those whose time is up, or whose output left the plan
  std::vector<PhaseDue> phases_due;
  Instant next_wake{};  ///< step() wants a Tick by then, at the latest
};

struct QuantityView {
  std::optional<double> value;  ///< the last one, live or not
  Instant seen{};
  bool usable = false;  ///< live and fresh: may drive outputs
  bool at_least = false;
  std::optional<Band> keep;  ///< where it is held now, glide included
  std::optional<double> warn_below, warn_above;
  /// Until it leaves the band, where what is called does not turn it; and over which edge.
  std::optional<Duration> leaves_in;
  bool leaves_up = false;
};

struct ActuatorView {
  std::string id;
  Effect effect = Effect::humidify;
  Level level = kRest;
  Instant since{};
  int starts_last_hour = 0;
  std::string why;  ///< reading, rule, lock, since when, what would change it: one sentence
};

/// What follows from the readings together, as of the last turn.
struct DerivedView {
  std::optional<double> value;  ///< of usable readings only
  std::optional<Band> keep;
  std::optional<double> warn_below, warn_above;
};

/// A reading that drives nothing, and why.
struct IgnoredView {
  Quantity quantity = Quantity::humidity;
  Doubt doubt = Doubt::none;
  std::string text;  ///< which sensor, since when, what to do: one or two sentences
};

/// Dew and wet surfaces, as of the last turn.
struct SurfacesView {
  bool dew_on_bed = false, dew_on_lid = false;
  std::optional<Duration> wet_for;    ///< since caps and casing could last be dry
  std::optional<Duration> dries_for;  ///< a drying window is open, for another such time at most
};

struct SensorView {
  std::string id;
  std::optional<Duration> interval;  ///< its own rhythm, once learned
  std::uint64_t spikes = 0;          ///< readings that the next one did not confirm
  std::vector<IgnoredView> ignored;
};

class Chamber {
 public:
  /// `tubs` are those that stand in this air; the leader's phase is kept, every ceiling counts.
  /// A start counts as a stop just now for every output.
  Chamber(ChamberPlan plan, std::vector<TubPlan> tubs, RoomPlan room, Instant now);
  ~Chamber();
  Chamber(Chamber&&) noexcept;
  Chamber& operator=(Chamber&&) noexcept;

  Effects step(const Event& event, Instant now);

  /// A new plan from now: sensors and actuators that stayed the same keep their state; the first
  /// turn after it is part of the answer. `phases` are those of the tubs, as far as they are known.
  Effects adopt(ChamberPlan plan, std::vector<TubPlan> tubs, RoomPlan room, Instant now,
                const std::vector<TubPhase>& phases = {});

  const ChamberPlan& plan() const;
  const std::vector<TubPlan>& tubs() const;
  const std::string& phase() const;  ///< the leader's; empty while not confirmed
  std::array<QuantityView, kQuantities> air(Instant now) const;
  std::vector<ActuatorView> actuators(Instant now) const;
  std::array<DerivedView, kDerived> derived() const;
  SurfacesView surfaces(Instant now) const;
  std::vector<SensorView> sensors(Instant now) const;
  const std::vector<Hand>& hands() const;
  /// The water book, as of the last turn; book() is what a restart goes on with.
  WaterView water() const;
  const WaterBookState& book() const;
  /// What the tub's phase kept since it began, or since this was last taken: it begins anew.
  KeptSums take_kept(const std::string& tub, Instant now);
  /// Likewise, as of the last turn, and goes on.
  const KeptSums& kept(const std::string& tub) const;
  /// Those raised and not returned.
  const std::vector<Alert>& alerts() const;

  struct State;  ///< the inside, for the files of this room only

 private:
  std::unique_ptr<State> state_;
};

}  // namespace tubwarden
