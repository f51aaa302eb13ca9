// What goes wrong in a rehearsed world, and what the parts around the core then do.

#include <algorithm>

#include "base/ensure.hpp"
#include "rehearsal/world_impl.hpp"

namespace tubwarden::rehearsal {

std::string_view name_of(Fault::Kind kind) {
  switch (kind) {
    case Fault::Kind::sensor_dead:
      return "sensor_dead";
    case Fault::Kind::sensor_gone:
      return "sensor_gone";
    case Fault::Kind::sensor_stuck:
      return "sensor_stuck";
    case Fault::Kind::broker_away:
      return "broker_away";
    case Fault::Kind::actuator_dead:
      return "actuator_dead";
    case Fault::Kind::lid_open:
      return "lid_open";
    case Fault::Kind::output_unusable:
      return "output_unusable";
    case Fault::Kind::daemon_away:
      return "daemon_away";
  }
  ENSURE(false);
}

bool World::Impl::faulty(Fault::Kind kind, std::size_t index) const {
  return std::any_of(plan.faults.begin(), plan.faults.end(), [&](const Fault& f) {
    return f.kind == kind && f.index == index && start + f.from <= now && now < start + f.to;
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
  const bool was_away = broker_away;
  broker_away = faulty(Fault::Kind::broker_away, 0);
  change_outputs();  // first: nothing the core says of the outage reaches an output over it
  if (broker_away != was_away) change_broker();
  change_sensors();
}

void World::Impl::change_sensors() {
  for (std::size_t i = 0; i < sensors.size(); ++i) {
    Sensor& s = sensors[i];
    s.dead = faulty(Fault::Kind::sensor_dead, i);
    s.stuck = faulty(Fault::Kind::sensor_stuck, i);
    const bool gone = faulty(Fault::Kind::sensor_gone, i);
    if (gone && !s.gone && !broker_away && !daemon_away) {
      watch.gone(i);
      step(event::SensorGone{i});
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
  if (daemon_away) return;
  if (broker_away) return step(event::BrokerDown{});
  step(event::BrokerUp{});
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
  if (!daemon_away) step(event::OutputUsable{actuator, usable, usable ? "" : why});
}

}  // namespace tubwarden::rehearsal
