// What goes wrong in a rehearsed world, and what the parts around the core then do.

#include <algorithm>
#include <utility>

#include "base/ensure.hpp"
#include "rehearsal/world_impl.hpp"

namespace tubwarden::rehearsal {

namespace {

struct Row {
  std::string_view name;
  Fault::Kind kind;
  FaultOf of;
};
/// The first row of a kind has its name; the others are a grower's words.
constexpr Row kRows[] = {
    {"sensor_dead", Fault::Kind::sensor_dead, FaultOf::sensor},
    {"sensor_gone", Fault::Kind::sensor_gone, FaultOf::sensor},
    {"sensor_stuck", Fault::Kind::sensor_stuck, FaultOf::sensor},
    {"sensor_drifting", Fault::Kind::sensor_drifting, FaultOf::sensor},
    {"broker_away", Fault::Kind::broker_away, FaultOf::world},
    {"broker_gone", Fault::Kind::broker_away, FaultOf::world},
    {"actuator_dead", Fault::Kind::actuator_dead, FaultOf::actuator},
    {"tank_empty", Fault::Kind::actuator_dead, FaultOf::actuator},
    {"fan_dead", Fault::Kind::actuator_dead, FaultOf::actuator},
    {"lid_open", Fault::Kind::lid_open, FaultOf::world},
    {"output_unusable", Fault::Kind::output_unusable, FaultOf::actuator},
    {"daemon_away", Fault::Kind::daemon_away, FaultOf::world},
    {"restart", Fault::Kind::daemon_away, FaultOf::world},
    {"daemon_hung", Fault::Kind::daemon_hung, FaultOf::world},
    {"clock_jump", Fault::Kind::clock_jump, FaultOf::world},
};

const Row& row_of(Fault::Kind kind) {
  for (const Row& row : kRows) {
    if (row.kind == kind) return row;
  }
  ENSURE(false);
}

}  // namespace

std::string_view name_of(Fault::Kind kind) { return row_of(kind).name; }
FaultOf place_of(Fault::Kind kind) { return row_of(kind).of; }

std::optional<Fault::Kind> fault_named(std::string_view name) {
  for (const Row& row : kRows) {
    if (row.name == name) return row.kind;
  }
  return std::nullopt;
}

bool World::Impl::faulty(const Fault& fault) const {
  return start + fault.from <= now && now < start + fault.to;
}

bool World::Impl::faulty(Fault::Kind kind, std::size_t index) const {
  return std::any_of(plan.faults.begin(), plan.faults.end(), [&](const Fault& f) {
    return f.kind == kind && (f.index == index || place_of(kind) == FaultOf::world) && faulty(f);
  });
}

void World::Impl::change_faults() {
  catch_up();
  plant.lid(faulty(Fault::Kind::lid_open, 0));
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    plant.dead(i, faulty(Fault::Kind::actuator_dead, i));
  }
  model.drive(plant.drive());
  change_daemon(faulty(Fault::Kind::daemon_away, 0));
  change_hang(faulty(Fault::Kind::daemon_hung, 0) && !daemon_away);
  const bool was_away = broker_away;
  broker_away = faulty(Fault::Kind::broker_away, 0);
  change_outputs();  // first: nothing the core says of the outage reaches an output over it
  if (broker_away != was_away) change_broker();
  change_sensors();
  if (std::any_of(plan.faults.begin(), plan.faults.end(),
                  [](const Fault& f) { return f.kind == Fault::Kind::clock_jump; })) {
    tell(event::LocalTime{second_of_day()});
  }
}

void World::Impl::tell(const Event& event) {
  if (daemon_away) return;
  if (hung) {
    missed.push_back({event});
    return;
  }
  step(event);
}

void World::Impl::tell_fallen(std::size_t actuator) {
  if (daemon_away) return;
  if (!hung) return step_fallen(actuator);
  missed.push_back({event::OutputUsable{actuator, false, ""}, outputs[actuator].sequence});
}

/// Whoever commands learns that the command is over: not usable, and usable again.
void World::Impl::step_fallen(std::size_t actuator) {
  step(event::OutputUsable{actuator, false, "its command is over: it fell to its safe level"});
  step(event::OutputUsable{actuator, true, ""});
}

/// A daemon that stands still renews no lease, and its outputs fall within theirs. Then it hears
/// what its hosts and its broker had to say; readings are not kept for it.
void World::Impl::change_hang(bool hangs) {
  if (hangs == hung) return;
  hung = hangs;
  if (hung) return;
  going_on = true;  // what it hears is all of now: it is judged by what it makes of the whole
  for (const Missed& m : std::exchange(missed, {})) {
    if (!m.sequence) {
      // Old news of an output that may have been told anew meanwhile.
      const auto* output = std::get_if<event::OutputUsable>(&m.event);
      if (output != nullptr && !output->usable) watch.unreachable(output->actuator, now);
      step(m.event);
      continue;
    }
    const std::size_t actuator = std::get<event::OutputUsable>(m.event).actuator;
    if (outputs[actuator].sequence == *m.sequence) step_fallen(actuator);
  }
  step(event::Tick{});
  going_on = false;
  watch.look(now);
}

void World::Impl::change_sensors() {
  for (std::size_t i = 0; i < sensors.size(); ++i) {
    Sensor& s = sensors[i];
    s.dead = faulty(Fault::Kind::sensor_dead, i);
    s.stuck = faulty(Fault::Kind::sensor_stuck, i);
    const bool gone = faulty(Fault::Kind::sensor_gone, i);
    if (gone && !s.gone && !broker_away && !daemon_away) {
      watch.gone(i);
      tell(event::SensorGone{i});
    }
    s.gone = gone;
  }
}

/// The daemon's end closes its hosts' sockets: they make safe at once. It starts again knowing only
/// what the record has.
void World::Impl::change_daemon(bool away) {
  if (away == daemon_away) return;
  daemon_away = away;
  if (!away) return begin_daemon();
  hung = false;
  missed.clear();
  book = std::make_shared<const WaterBookState>(chamber->book());
  book_at = now;
  chamber.reset();
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    outputs[i].clock.fall(now);
    if (!outputs[i].falls_at) {
      set_level(i, plan.chamber.actuators[i].output.safe, Cause::lost);
    }
  }
}

/// Readings stop; what the broker kept comes back as retained. Network outputs are out of reach,
/// see change_outputs().
void World::Impl::change_broker() {
  watch.broker(!broker_away);
  if (broker_away) return tell(event::BrokerDown{});
  tell(event::BrokerUp{});
  if (absent()) return;
  for (std::size_t i = 0; i < sensors.size(); ++i) {
    if (sensors[i].retains && sensors[i].sampled) hear(i, true);
  }
}

void World::Impl::change_outputs() {
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    const bool cut_off = broker_away && plan.chamber.actuators[i].output.network;
    const bool lost = faulty(Fault::Kind::output_unusable, i);
    const bool usable = !cut_off && !lost;
    if (usable == outputs[i].usable) continue;
    change_usable(i, usable, !cut_off || lost,
                  cut_off ? "the broker is away" : "its driver lost it");
  }
}

/// A lost output falls to safe at once; one that is out of reach stays as it is until its will is
/// sent, a lease later. Back in reach it is made safe before it is told anything else.
void World::Impl::change_usable(std::size_t actuator, bool usable, bool reaches,
                                const std::string& why) {
  Output& o = outputs[actuator];
  const OutputPlan& output = plan.chamber.actuators[actuator].output;
  o.usable = usable;
  o.clock.fall(now);
  o.falls_at.reset();
  if (usable || reaches) {
    set_level(actuator, output.safe, Cause::lost);
  } else {
    watch.unreachable(actuator, now);
    o.falls_at = now + output.lease;
  }
  tell(event::OutputUsable{actuator, usable, usable ? "" : why});
}

}  // namespace tubwarden::rehearsal
