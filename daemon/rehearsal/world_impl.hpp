// The inside of a rehearsed world. Private to rehearsal. Threading: one owner. Failure: none.
#pragma once

#include <map>
#include <optional>
#include <utility>

#include "core/output/output_clock.hpp"
#include "rehearsal/plant.hpp"
#include "rehearsal/probe.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

struct World::Impl {
  static constexpr std::size_t kAlertsMax = 10000;

  struct Sensor {
    std::vector<Probe> probes;  ///< by quantity of its plan
    std::vector<double> last;
    Duration rhythm{0};
    Instant next{};
    bool sampled = false;
    std::vector<double> said;  ///< its last word, for one that speaks on change
    Instant said_at{};
    bool retains = false;  ///< its broker keeps the last word for who comes later
    bool dead = false, stuck = false, gone = false;
  };
  struct Output {
    explicit Output(const OutputPlan& plan) : clock(plan.safe) {}
    OutputClock clock;
    std::uint64_t sequence = 0;
    bool usable = true;
    std::optional<Instant> falls_at;  ///< out of reach, and still as it was until then
  };

  explicit Impl(WorldPlan wanted);

  void run(Instant end);
  void account(double passed_s);
  void advance_to(Instant t);
  void advance_model(Duration passed);
  void catch_up();
  Instant next_event(Instant end) const;
  /// Everything that is due now, in order: hosts, faults, phases, sensors, the chamber's own wake.
  void turn();

  void step(const Event& event);
  void take_bands();
  void perform(const Effects& effects);
  void command(const OutputCommand& c);
  void set_level(std::size_t actuator, Level level, Cause cause);
  void host_ticks();
  void renew();

  void sample(std::size_t sensor);
  void sample_room();
  bool speaks(std::size_t sensor);
  void hear(std::size_t sensor, bool retained);
  bool in_band(Quantity q, double value) const;

  void change_faults();
  bool faulty(const Fault& fault) const;
  bool faulty(Fault::Kind kind, std::size_t index) const;
  void change_broker();
  void change_daemon(bool away);
  void change_outputs();
  void change_sensors();
  void change_usable(std::size_t actuator, bool usable, bool reaches, const std::string& why);
  /// Nobody commands: the daemon is away or stands still.
  bool absent() const { return daemon_away || hung; }
  /// An event that a daemon which stands still will hear when it goes on.
  void tell(const Event& event);
  void change_hang(bool hangs);
  /// Its host says, once, that its lease ran out.
  void tell_fallen(std::size_t actuator);
  void step_fallen(std::size_t actuator);
  void take_hands();
  void take_beds();
  Bands judged_bands() const;
  double drifted(std::size_t sensor, Quantity q, double value) const;
  void begin_daemon();
  void enter_phase(const TubPhase& phase);
  // world_phases.cpp
  void take_phases();
  void follow_plans();
  void enter(PhaseStep step);
  void foresee_phase();
  int second_of_day() const;

  WorldPlan plan;
  Instant start;
  Instant now;
  Instant modelled;  ///< where the model stands: less than a step behind now
  Dice dice;
  Plant plant;
  ChamberModel model;
  std::optional<Chamber> chamber;  ///< nothing while the daemon is away
  Instant wake;
  Watch watch;
  std::vector<Sensor> sensors;
  std::vector<Output> outputs;
  std::map<std::string, TubPhase> record;               ///< the phase truth, by tub
  std::map<std::string, AirForecast::Learned> learned;  ///< as the record has it, by mister
  std::map<std::string, double> held;                   ///< K/h of a slow duty, likewise
  std::shared_ptr<const WaterBookState> book;           ///< likewise, of the last end
  Instant book_at{};
  std::vector<Instant> fault_edges;
  std::size_t next_edge = 0;
  std::vector<PhaseStep> entered, ahead;  ///< in order; those ahead as foreseen now
  std::optional<Instant> phase_at;        ///< when the next is entered that waits for no plan
  std::vector<PhaseDue> plans_due;        ///< told in this turn
  std::size_t next_hand = 0;
  std::size_t next_bed = 0;
  Observer* observer = nullptr;
  std::vector<Hand> hands;  ///< as the record has them
  /// What a daemon that stands still will hear. A host's word that a command is over counts for
  /// that command only: where another has followed, it is passed over.
  struct Missed {
    Event event;
    std::optional<std::uint64_t> sequence{};
  };
  std::vector<Missed> missed;
  Instant next_renewal;
  Duration renewal;
  Duration account_each;  ///< a step of the model: bands and outputs are counted by it
  Instant next_room;
  bool broker_away = false;
  bool daemon_away = false;
  bool hung = false;
  bool going_on = false;  ///< after it was hung, and not yet through with what it missed
  const PhasePlan* phase_plan = nullptr;
  std::array<std::optional<Band>, kQuantities> bands;
  std::array<std::optional<double>, kQuantities> last_word;  ///< by quantity, whichever sensor's
  Statistics statistics;
  std::vector<AlertChange> alerts;
};

}  // namespace tubwarden::rehearsal
