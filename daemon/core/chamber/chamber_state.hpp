// The inside of a chamber: what it remembers between two turns. Private to core/chamber.
// Threading: one owner. Failure: none.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/alert/alert.hpp"
#include "core/chamber/chamber.hpp"
#include "core/chamber/derived_air.hpp"
#include "core/chamber/doubts.hpp"
#include "core/chamber/drift.hpp"
#include "core/chamber/duty.hpp"
#include "core/chamber/evidence.hpp"
#include "core/chamber/no_effect.hpp"
#include "core/chamber/portions.hpp"
#include "core/chamber/surfaces.hpp"
#include "core/chamber/water.hpp"
#include "core/climate/blind_rule.hpp"
#include "core/climate/fresh_air.hpp"
#include "core/climate/hysteresis.hpp"
#include "core/climate/next_watch.hpp"
#include "core/climate/reason.hpp"
#include "core/climate/run_gate.hpp"
#include "core/sensing/air_state.hpp"

namespace tubwarden {

inline constexpr Duration kGlideLookBack = minutes(10);
inline constexpr Duration kMistCoast = seconds(120);  ///< until learned
inline constexpr Duration kAlertOffDelay = minutes(1);
inline constexpr double kCeilingRelease = 1.0;  ///< C below the ceiling
inline constexpr double kAirToSubstrate = 3.0;  ///< C: what a substrate may be above its air
inline constexpr double kRoomHelps = 0.5;       ///< C cooler: less than that cools nothing
/// C: an air without a temperature is taken for one of a cropping tub.
inline constexpr double kMistPriorCelsius = 17.0;
/// A glide moves in steps, so that it is the same however often the chamber is asked.
inline constexpr Duration kGlideStep = minutes(1);

/// The last ten minutes of a quantity, thinned, for the median a glide starts at.
class RecentValues {
 public:
  void add(double value, Instant taken);
  std::optional<double> median(Instant now) const;

 private:
  static constexpr std::size_t kKept = 60;
  static constexpr Duration kApart = kGlideLookBack / kKept;
  struct Sample {
    double value;
    Instant at;
  };
  std::array<Sample, kKept> samples_{};
  std::size_t count_ = 0;
};

struct QuantityState {
  Hysteresis hysteresis;
  std::optional<KeptBand> kept;  ///< where it is held now, glide included
  double glide_shift = 0.0;      ///< what the glide adds to the band just now
  std::optional<Sensed> sensed;  ///< usable now
  RecentValues recent;
  AlertTimer low, high;
};

struct TubState {
  TubPlan plan;
  TubPhase phase;
  bool ceiling_holds = false;
  std::optional<double> ceiling_value;  ///< what it was last judged by
  bool ceiling_by_air = false;          ///< ... which was the air's and the allowance above it
  AlertTimer ceiling_alert;
  NextWatch next;
  bool next_due = false;
  AlertTimer next_alert;
  KeptSums kept;
};

struct ActuatorState {
  ActuatorState(const ActuatorPlan& plan, Instant now) : gate(plan.limits, now), level_since(now) {}
  RunGate gate;
  Reason reason;
  bool usable = false;  ///< until its driver says so
  std::string unusable_why;
  /// What the driver was last told; nothing: nothing yet.
  struct Told {
    Level level = kRest;
    bool timed = false;              ///< the host ends it by itself
    bool trial = false;              ///< ... at the end of a trial
    std::optional<Instant> until{};  ///< ... at the end of a portion
    bool operator==(const Told&) const = default;
  };
  std::optional<Told> told;
  Level level = kRest;
  Instant level_since{};
  int turn = 0;  ///< when within a step it is decided
  /// What was last told as a decision.
  struct Decided {
    Level level = kRest;
    Instant since{};
    Why why = Why::unusable;
    std::optional<FanMaster> master;
  };
  std::optional<Decided> decided;
  /// The begin of runs that followed one another closely, and the end of the last.
  std::optional<Instant> called_since, ran_until;
  DutyBook day;  ///< kept only with BlindRule::duty
  std::optional<BlindSpell> blind;
  std::optional<Instant> blind_until;  ///< the end of a blind run
};

/// One value of the room around: fixed, or a sensor with its own staleness.
struct RoomValue {
  std::optional<double> value;
  bool fixed = false;
  bool live = false;
  Instant seen{};
  Duration stale_after{0};
  std::optional<double> usable(Instant now) const {
    if (fixed || (live && now - seen <= stale_after)) return value;
    return std::nullopt;
  }
  /// The moment at which it stops being usable.
  std::optional<Instant> stales_at() const {
    return live && !fixed ? std::optional(seen + stale_after + Duration{1}) : std::nullopt;
  }
};

struct Chamber::State {
  ChamberPlan plan;
  std::vector<TubPlan> tub_plans;
  RoomPlan room_plan;

  AirState air;
  std::array<QuantityState, kQuantities> quantities;
  std::array<RoomValue, 3> room;  ///< by event::RoomQuantity
  std::vector<TubState> tubs;
  std::vector<ActuatorState> actuators;
  std::vector<AlertTimer> stale_alerts;  ///< by sensor
  std::vector<Alert> standing;
  std::vector<AlertKey> orphans;  ///< standing, and what they were about has left the plan
  std::vector<Hand> hands;
  AirParts parts;  ///< usable readings as of the last turn: what derived values are made of
  DerivedStates derived;
  DoubtAlarms doubts;
  Evidence evidence;
  NoEffect no_effect;
  Drifts drifts;
  Instant day_followed{};
  Instant kept_followed{};
  FloorClock floor;
  Portions portions;
  Duties duties;
  WaterKeeping ledger;
  Surfaces surfaces;
  bool broker_up = true;
  std::optional<Instant> last_mist_end;
  std::optional<Instant> midnight;  ///< the boot instant of the local day's start

  State(ChamberPlan chamber, std::vector<TubPlan> standing_in, RoomPlan around, Instant now);

  QuantityState& of(Quantity q) { return quantities[index_of(q)]; }
  const QuantityState& of(Quantity q) const { return quantities[index_of(q)]; }
  TubState* leader();
  const TubState* leader() const;
  /// The leader's phase as its profile describes it; nothing while not confirmed or unknown.
  const PhasePlan* phase_plan() const;
  /// Who leads, for a sentence; valid while the plan is.
  Led led() const;
  bool ceiling_holds() const;
  /// The hand of this kind on an output; attend is on all.
  const Hand* hand(HandKind kind, const std::string& actuator = "") const;
  /// Whether an actuator of this effect runs, by a decision or at its safe level.
  bool runs_anywhere(Effect effect) const;
  /// Notes that an actuator now stands at `level`.
  void stands(std::size_t actuator, Level level, Instant now);
  std::optional<double> room_of(event::RoomQuantity q, Instant now) const {
    return room[static_cast<std::size_t>(q)].usable(now);
  }

  // next_phase.cpp: when the plan goes on, and what the phase keeps meanwhile.
  void follow_kept(Instant now);
  void judge_next(Effects& effects, Instant now);

  // portions.cpp: what the air is expected to do.
  /// Whether an output of this chamber runs by portions now; `declined` says why one that should
  /// does not.
  bool by_portions(const ActuatorPlan& actuator) const;
  Declined declined(const ActuatorPlan& actuator) const;
  /// What acts on humidity and CO2 while a fan moves `m3_per_h`.
  AirDrive humidity_drive(double m3_per_h, Instant now) const;
  AirDrive co2_drive(double m3_per_h, Instant now) const;
  /// % RH a second of a mister.
  double mist_gain(const ActuatorPlan& mister) const;
  /// Lets the forecasts catch up with the outputs as they stood until now.
  void follow_air(Instant now);
  /// What an earlier run had learned; nothing where the mister is another.
  void take_known(const event::MistKnown& known);
  /// Tells what was learned, when it has moved on.
  void tell_learned(Effects& effects, Instant now);
  /// A reading for the forecasts.
  void heed(Quantity q, Instant now);

  // duty.cpp: the substrate by a slow duty.
  /// Whether an output keeps the substrate by a share of each period.
  bool by_duty(const ActuatorPlan& actuator) const;
  /// Lets the law see where the bed stands now.
  void steer_duty(Instant now);
  void take_known(const event::DutyKnown& known);
  void tell_duty(Effects& effects, Instant now);

  // water.cpp: the water book.
  void open_book();
  std::optional<double> taken_now(Instant now);
  /// Notes what moved water and drew power up to now, by how the outputs stood.
  void keep_book(Instant now);
  void take_watered(const event::Watered& given, Instant now);
  void take_book(const event::BookKnown& known, Instant now);
  void forget_gone();
  void take_refilled(const event::Refilled& filled);
  void mark_casing(const std::string& tub, const std::string& before, const std::string& phase);
  // surfaces.cpp: dew and wet surfaces.
  void judge_surfaces(const PhasePlan* phase, Instant now);
  void look_at_surfaces(const Surfaces::Seen& seen);
  /// Until when surfaces are dried after a watering; nothing: no window is open.
  std::optional<Instant> dries_until(const PhasePlan* phase, Instant now) const;
  void alert_surfaces(Effects& effects, const PhasePlan* phase, bool quiet, Instant now);

  /// Tells the floor how much air the fans moved up to now, by how they stood.
  void count_moved_air(Instant now);

  // derived_air.cpp: what follows from the readings together.
  AirParts air_parts(Instant now) const;
  void judge_derived(const PhasePlan* phase, Instant now);
  void alert_derived(Effects& effects, const PhasePlan* phase, bool quiet, Duration elapsed,
                     Instant now);

  // doubts.cpp: which sensors are believed.
  void take_doubts(const std::vector<SensorPlan>& wanted);
  void alert_doubts(Effects& effects, bool quiet, bool empty, Instant now);
  bool disagreeing(Quantity q, Instant now) const;
  RunAir run_air(Instant now) const;
  /// A run that ends now, or goes on at another level, is evidence.
  void note_run(std::size_t actuator, Instant now);
  void follow_heat(Instant now);
  std::vector<Push> pushes(Instant now) const;
  void judge_sensors(Instant now);

  // drift.cpp: what leaves its band.
  void note_called(std::size_t actuator, Level level, Instant now);
  void heed_drift(Quantity q, Instant now);
  std::optional<Leaving> leaving(Quantity q, Instant now) const;
  void alert_drift(Effects& effects, const PhasePlan* phase, bool quiet, Duration elapsed,
                   Instant now);

  // blind.cpp: what blind actuators repeat.
  void follow_day(Instant now);
  void take_known(const event::BlindKnown& known);

  // no_effect.cpp: which actuators run and move nothing.
  /// Tells the fits how the outputs stood until now. Only where something changes, so that it is
  /// the same however often the chamber is asked.
  void follow_effects(Instant now);
  void heed_effects(Quantity q, Instant now);
  /// What a portion that was watched has shown.
  void heed_portion(MistWatch::Verdict verdict, double value);
  void heed_heat(Quantity q, double value, Instant now);
  void heed_return(std::size_t actuator, Quantity q, double value, Instant now);
  void suspect(std::size_t actuator, Quantity q, const std::optional<EffectFit::Share>& share);
  /// Whether some actuator of this effect seems to.
  bool moves_nothing(Effect effect) const;
  void take_effects(const std::vector<ActuatorPlan>& wanted);
  void alert_effects(Effects& effects, bool quiet, bool empty, Instant now);

  // absorb.cpp: an event into the state.
  void absorb(const Event& event, Instant now);
  void take_reading(const event::Reading& reading, Instant now);
  void take_plan(ChamberPlan chamber, std::vector<TubPlan> standing_in, RoomPlan around,
                 Instant now);
  void take_sensors(const std::vector<SensorPlan>& wanted, Instant now);
  void take_actuators(const std::vector<ActuatorPlan>& wanted, Instant now);
  void take_tubs(const std::vector<TubPlan>& wanted);
  void take_room(RoomPlan around);
  void take_phase(const TubPhase& phase, Instant now);
  void take_usable(const event::OutputUsable& report, Instant now);
  /// The leader's phase begins, as far as control is concerned.
  void begin_phase(Instant now);
  // hands.cpp: the grower's hand.
  void take_hand(const Hand& hand);
  void drop_hand(HandKind kind, const std::string& actuator);
  /// Ends what is over, and says by when the next one is.
  void end_hands(Effects& effects, Instant now);
  // judge.cpp: readings and phase into bands, calls and the ceiling.
  void judge(Effects& effects, Instant now);
  // decide.cpp, fan.cpp: calls into outputs, within limits and locks.
  void decide(Effects& effects, Instant now);
  // chamber_alerts.cpp: what the grower is told.
  void alert(Effects& effects, Instant now);

  Effects turn(Instant now);
};

inline constexpr const char* kCeilingCause = "substrate_ceiling";
inline constexpr const char* kPhaseDueCause = "phase_due";
std::string stale_cause(const SensorPlan& sensor);

/// Keeps the earliest of several moments, those past `now` only.
inline void wake_by(Effects& effects, std::optional<Instant> at, Instant now) {
  if (at && *at > now && *at < effects.next_wake) effects.next_wake = *at;
}

}  // namespace tubwarden
