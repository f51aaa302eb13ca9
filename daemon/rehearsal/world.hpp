// A chamber rehearsed: the very core that runs a tub, its outputs on their hosts' clocks, sensors
// by their rhythm and the physical model, on a virtual clock that jumps from event to event. A seed
// decides all that is random, so that any run replays. Threading: one owner. Failure: a broken
// invariant is kept by watch(); a plan that cannot run (no sensors' rhythm, ...) is a bug.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/chamber/chamber.hpp"
#include "rehearsal/model.hpp"
#include "rehearsal/observer.hpp"
#include "rehearsal/statistics.hpp"
#include "rehearsal/watch.hpp"

namespace tubwarden::rehearsal {

struct Fault {
  enum class Kind {
    sensor_dead,    ///< says nothing
    sensor_gone,    ///< ... and its will is heard
    sensor_stuck,   ///< repeats its last word
    broker_away,    ///< nothing is heard; network outputs are out of reach
    actuator_dead,  ///< runs and moves nothing: an empty tank, a stalled fan
    lid_open,
    output_unusable,  ///< its driver lost it: it falls to safe
    daemon_away,      ///< the daemon is gone, its outputs fall; it starts anew at the end
    daemon_hung,      ///< it stands still: renews nothing, hears nothing; then it goes on
    sensor_drifting,  ///< shows `amount` more with every hour, in the quantity's kept unit
    clock_jump,       ///< the wall clock is off by `amount` seconds; set right at the end
  };
  Kind kind = Kind::sensor_dead;
  std::size_t index = 0;    ///< of the sensor or actuator
  Duration from{0}, to{0};  ///< since the start
  double amount = 0.0;
  std::optional<Quantity> quantity{};  ///< that drifts; nothing: the sensor's first
};
std::string_view name_of(Fault::Kind kind);
/// By that name, or by a grower's word for it: tank_empty, fan_dead, broker_gone, restart.
std::optional<Fault::Kind> fault_named(std::string_view name);
/// Whether the fault is one of a sensor, of an actuator, or of neither (`index` is not read).
enum class FaultOf { sensor, actuator, world };
FaultOf place_of(Fault::Kind kind);

struct PhaseStep {
  Duration at{0};
  std::string tub;
  std::string phase;
  /// Not at its time, but when the chamber's own plan goes on to it; the tub's later steps move
  /// along with it.
  bool by_plan = false;
};

/// The load changes: a casing is laid, mushrooms grow, are picked.
struct BedStep {
  Duration at{0};
  Bed bed;
  bool given = true;  ///< its water is given by a hand; else it is laid wet
};

/// A grower's hand, as in `attend`, `keep-at` and `try`.
struct HandStep {
  Duration at{0};
  Duration length{0};
  HandKind kind = HandKind::attend;
  std::size_t actuator = 0;  ///< not read with attend
  Level level = kRest;
};

struct WorldPlan {
  ChamberPlan chamber;
  std::vector<TubPlan> tubs;
  RoomPlan room;
  std::vector<PhaseStep> phases;  ///< in order; the first usually at 0
  std::vector<BedStep> beds;      ///< in order
  /// The beds anew, once a tub went on at another time than foreseen; nothing: they stay.
  std::function<std::vector<BedStep>(const std::vector<PhaseStep>&)> beds_by{};
  ModelParameters model;
  RoomDay room_day;
  StartAir start;
  StepPlan steps;
  std::uint64_t seed = 1;
  std::vector<Duration> rhythm;  ///< by sensor; a missing one is 10 s
  Duration room_rhythm = seconds(60);
  /// By actuator: what it really moves, of the rate its plan names; a missing one is 1.
  std::vector<double> strengths;
  std::optional<bool> heats_substrate;  ///< where heaters heat; nothing: as Plant has it
  Duration run_in{0};                   ///< statistics count after it
  std::vector<Fault> faults;
  std::vector<HandStep> hands;  ///< in order
};

class World {
 public:
  explicit World(WorldPlan plan);
  ~World();
  World(World&&) noexcept;
  World& operator=(World&&) noexcept;

  /// Somebody who looks on from now; outlives this, or is taken away by nullptr.
  void observe(Observer* observer);
  /// Lets `time` pass. Stops early at the first broken invariant.
  void run(Duration time);

  Duration passed() const;
  const Statistics& statistics() const;
  const Watch& watch() const;
  const ChamberModel& model() const;
  const Chamber& chamber() const;  ///< must not be asked while the daemon is away
  Level level(std::size_t actuator) const;
  /// Every alert raised or returned, the first 10,000.
  const std::vector<AlertChange>& alerts() const;

  struct Impl;

 private:
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::rehearsal
