#include "rehearsal/world.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/ensure.hpp"
#include "rehearsal/world_impl.hpp"

namespace tubwarden::rehearsal {
namespace {

/// A board that has been up for a while: nothing may lean on the boot clock's zero.
constexpr Instant kStart{hours(1000)};
constexpr Duration kUsualRhythm = seconds(10);

}  // namespace

World::Impl::Impl(WorldPlan wanted)
    : plan(std::move(wanted)),
      start(kStart),
      now(kStart),
      modelled(kStart),
      dice(plan.seed),
      plant(plan.chamber, plan.heats_substrate),
      model(plan.model, plan.room_day, plan.start, plan.steps),
      wake(kStart),
      watch(plan.chamber, plan.tubs, kStart),
      next_renewal(kStart),
      renewal(hours(1)),
      account_each(from_seconds(plan.steps.step_s)),
      next_room(kStart) {
  plan.rhythm.resize(plan.chamber.sensors.size(), kUsualRhythm);
  plan.strengths.resize(plan.chamber.actuators.size(), 1.0);
  for (std::size_t i = 0; i < plan.chamber.sensors.size(); ++i) {
    ENSURE(plan.rhythm[i] > Duration{0});
    Sensor sensor;
    for (const QuantitySource& source : plan.chamber.sensors[i].quantities) {
      const SensorTrait& trait = plan.model.sensors[index_of(source.quantity)];
      sensor.probes.emplace_back(source.quantity, trait, dice.next());
    }
    sensor.last.resize(sensor.probes.size());
    sensor.rhythm = plan.rhythm[i];
    sensor.next = now + from_seconds(seconds_of(sensor.rhythm) * dice.unit());
    sensor.retains = dice.chance(0.5);
    sensors.push_back(std::move(sensor));
  }
  for (const ActuatorPlan& a : plan.chamber.actuators) {
    outputs.emplace_back(a.output);
    renewal = std::min(renewal, a.output.lease / 3);
    statistics.work.emplace_back();
    plant.set(outputs.size() - 1, a.output.safe);
    plant.strength(outputs.size() - 1, plan.strengths[outputs.size() - 1]);
  }
  ENSURE(renewal > Duration{0} && account_each > Duration{0});
  model.drive(plant.drive());
  for (const Fault& fault : plan.faults) {
    fault_edges.push_back(start + fault.from);
    fault_edges.push_back(start + fault.to);
  }
  std::sort(fault_edges.begin(), fault_edges.end());
  ahead = plan.phases;
  foresee_phase();
  begin_daemon();
}

int World::Impl::second_of_day() const {
  double second = plan.start.second_of_day + seconds_of(now - start);
  for (const Fault& f : plan.faults) {
    if (f.kind == Fault::Kind::clock_jump && faulty(f)) second += f.amount;
  }
  const int of_day = static_cast<int>(std::fmod(second, 86400.0));
  return of_day < 0 ? of_day + 86400 : of_day;
}

void World::Impl::begin_daemon() {
  chamber.emplace(plan.chamber, plan.tubs, plan.room, now);
  wake = now;
  watch.restarted(now);
  catch_up();
  bands = {};
  phase_plan = nullptr;
  if (broker_away) step(event::BrokerDown{});
  step(event::LocalTime{second_of_day()});
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    if (outputs[i].usable) step(event::OutputUsable{i, true, ""});
  }
  if (book) step(event::BookKnown{book, now - book_at});
  for (const auto& [mister, known] : learned) step(event::MistKnown{mister, known});
  for (const auto& [output, k_per_h] : held) step(event::DutyKnown{output, k_per_h});
  for (const auto& [tub, phase] : record) enter_phase(phase);
  // A run that was tried is not given twice.
  std::erase_if(hands, [&](const Hand& h) { return h.until <= now || h.kind == HandKind::trial; });
  for (const Hand& hand : hands) {
    watch.hand(hand);
    step(event::HandOn{hand});
  }
}

void World::Impl::enter_phase(const TubPhase& phase) {
  if (phase.tub == plan.chamber.leader) {
    catch_up();
    for (const TubPlan& tub : plan.tubs) {
      if (tub.id == phase.tub && tub.profile) phase_plan = tub.profile->find(phase.phase);
    }
  }
  watch.phase(phase.tub, phase.phase);
  step(event::PhaseIs{phase});
}

// --- time ---------------------------------------------------------------------------------------

Instant World::Impl::next_event(Instant end) const {
  Instant next = end;
  const auto sooner = [&next](Instant t) { next = std::min(next, t); };
  if (!absent()) {
    sooner(wake);
    sooner(next_renewal);
  }
  if (!hung) {  // a grower finds nobody to tell, and tells it later
    if (phase_at) sooner(*phase_at);
    if (next_hand < plan.hands.size()) sooner(start + plan.hands[next_hand].at);
  }
  if (next_bed < plan.beds.size()) sooner(start + plan.beds[next_bed].at);
  for (const Sensor& s : sensors) sooner(s.next);
  if (plan.room_rhythm > Duration{0}) sooner(next_room);
  for (const Output& o : outputs) {
    if (const auto due = o.clock.next_wake()) sooner(*due);
    if (o.falls_at) sooner(*o.falls_at);
  }
  if (next_edge < fault_edges.size()) sooner(fault_edges[next_edge]);
  return std::max(next, now);
}

void World::Impl::account(double passed_s) {
  if (modelled - start < plan.run_in) return;
  bool kept = false;
  bool all = true;
  bool sensed = true;
  bool spoken = true;
  for (Quantity q : kAllQuantities) {
    if (!bands[index_of(q)]) continue;
    kept = true;
    const bool in = in_band(q, model.truth(q));
    all = all && in;
    spoken = spoken && last_word[index_of(q)];
    sensed = sensed && spoken && in_band(q, *last_word[index_of(q)]);
    statistics.bands[index_of(q)].true_s.all += passed_s;
    if (in) statistics.bands[index_of(q)].true_s.in += passed_s;
  }
  if (kept) statistics.all_true_s.all += passed_s;
  if (kept && all) statistics.all_true_s.in += passed_s;
  if (kept && spoken) statistics.all_sensed_s.all += passed_s;
  if (kept && spoken && sensed) statistics.all_sensed_s.in += passed_s;
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    if (plant.level(i) == kRest) continue;
    const double run_s = passed_s * plant.level(i) / kRun;
    const Effect effect = plan.chamber.actuators[i].effect;
    const bool watts = effect == Effect::heat || effect == Effect::cool || effect == Effect::light;
    const double amount = plant.rate(i) * run_s / (watts ? 1000.0 : 3600.0);
    statistics.work[i].run_s += run_s;
    statistics.work[i].amount += amount;
    if (effect == Effect::humidify) statistics.mist_g += amount;
    if (watts) statistics.energy_kj += amount;
  }
}

void World::Impl::advance_model(Duration passed) {
  model.advance(passed);
  modelled += passed;
  account(seconds_of(passed));
  if (observer == nullptr) return;
  observer->passed(modelled - start, seconds_of(passed),
                   {model.truth(Quantity::humidity), model.truth(Quantity::air_temperature),
                    model.truth(Quantity::substrate_temperature), model.truth(Quantity::co2)});
}

/// In the model's own steps: what happens between them and asks nothing of the air cuts no step.
void World::Impl::advance_to(Instant t) {
  while (t - modelled >= account_each) advance_model(account_each);
  now = t;
}

/// Before the air is asked, or something that moves it or judges it changes.
void World::Impl::catch_up() {
  if (modelled < now) advance_model(now - modelled);
}

void World::Impl::run(Instant end) {
  while (watch.broken_total() == 0) {
    const Instant next = next_event(end);
    advance_to(next);
    // Before what happens now is told: nothing may have come due unseen.
    watch.look_at_leases(now - Duration{1});
    if (!absent()) watch.look(now - Duration{1});
    if (now >= end) break;
    turn();
  }
  catch_up();
}

void World::Impl::turn() {
  if (!absent() && next_renewal <= now) renew();
  host_ticks();
  if (next_edge < fault_edges.size() && fault_edges[next_edge] <= now) {
    while (next_edge < fault_edges.size() && fault_edges[next_edge] <= now) ++next_edge;
    change_faults();
  }
  take_beds();
  take_phases();
  take_hands();
  for (std::size_t i = 0; i < sensors.size(); ++i) {
    if (sensors[i].next <= now) sample(i);
  }
  if (plan.room_rhythm > Duration{0} && next_room <= now) sample_room();
  if (!absent() && wake <= now) step(event::Tick{});
  follow_plans();
}

void World::Impl::take_hands() {
  while (!hung && next_hand < plan.hands.size() && start + plan.hands[next_hand].at <= now) {
    const HandStep& taken = plan.hands[next_hand++];
    if (daemon_away) continue;
    Hand hand{taken.kind, "", taken.level, now + taken.length, plan.chamber.leader};
    if (hand.kind != HandKind::attend) hand.actuator = plan.chamber.actuators[taken.actuator].id;
    std::erase_if(hands, [&](const Hand& h) { return same_place(h, hand); });
    hands.push_back(hand);
    watch.hand(hand);
    step(event::HandOn{hand});
  }
}

void World::Impl::take_beds() {
  while (next_bed < plan.beds.size() && start + plan.beds[next_bed].at <= now) {
    catch_up();
    const BedStep& laid = plan.beds[next_bed++];
    const double given_g = model.lay(laid.bed);
    if (!laid.given || given_g <= 0.0) continue;
    if (observer != nullptr) observer->watered(now - start, given_g);
    if (!absent()) step(event::Watered{plan.chamber.leader, given_g});
  }
}

// --- the daemon ---------------------------------------------------------------------------------

void World::Impl::step(const Event& event) {
  ++statistics.turns;
  // A reading moves no band, unless a glide begins with it; what time moves, the chamber wakes for.
  const bool reading = std::holds_alternative<event::Message>(event) && now < wake;
  const Effects effects = chamber->step(event, now);
  ENSURE(effects.next_wake > now);
  wake = effects.next_wake;
  if (!reading || !effects.glides.empty()) take_bands();
  perform(effects);
  if (!going_on) watch.look(now);
}

void World::Impl::take_bands() {
  std::array<std::optional<Band>, kQuantities> kept;
  const auto air = chamber->air(now);
  for (Quantity q : kAllQuantities) kept[index_of(q)] = air[index_of(q)].keep;
  if (kept == bands) return;
  catch_up();
  bands = kept;
  watch.bands(bands);
  if (observer != nullptr) observer->kept(now - start, judged_bands());
}

/// keep_above has no upper edge that could be left, keep_below no lower one.
Bands World::Impl::judged_bands() const {
  constexpr double kNever = std::numeric_limits<double>::infinity();
  Bands judged = bands;
  for (Quantity q : kAllQuantities) {
    auto& band = judged[index_of(q)];
    if (!band || phase_plan == nullptr || !phase_plan->of(q) || !phase_plan->of(q)->keep) continue;
    if (phase_plan->of(q)->keep->form == Keep::Form::below) band->low = -kNever;
    if (phase_plan->of(q)->keep->form == Keep::Form::above) band->high = kNever;
  }
  return judged;
}

void World::Impl::perform(const Effects& effects) {
  for (const OutputCommand& c : effects.outputs) command(c);
  for (const AlertChange& change : effects.alerts) {
    ++(change.raised ? statistics.alerts_raised : statistics.alerts_returned);
    if (alerts.size() < kAlertsMax) alerts.push_back(change);
    if (observer != nullptr) observer->alerted(now - start, change);
  }
  for (const MistLearned& told : effects.learned) {
    learned[told.actuator] = told.learned;
    watch.learned(told, now);
  }
  for (const DutyLearned& told : effects.duties) held[told.actuator] = told.k_per_h;
  plans_due = effects.phases_due;
  for (const GlideStart& glide : effects.glides) {
    record[glide.tub].glide_from[index_of(glide.quantity)] = glide.value;
  }
}

// --- the outputs' hosts -------------------------------------------------------------------------

void World::Impl::command(const OutputCommand& c) {
  Output& o = outputs[c.actuator];
  if (!o.usable) return;
  const Duration lease = plan.chamber.actuators[c.actuator].output.lease;
  const OutputAction done = o.clock.apply(c.level, c.run, lease, ++o.sequence, now);
  ENSURE(done.kind == OutputAction::Kind::apply);
  set_level(c.actuator, done.level, c.safe ? Cause::made_safe : Cause::decided);
}

void World::Impl::set_level(std::size_t actuator, Level level, Cause cause) {
  const Level before = plant.level(actuator);
  watch.output(actuator, level, cause, now);
  if (before == level) return;
  catch_up();
  plant.set(actuator, level);
  model.drive(plant.drive());
  if (observer != nullptr) observer->switched(now - start, actuator, level, plant.rate(actuator));
  if (before == kRest && now - start >= plan.run_in) ++statistics.work[actuator].starts;
}

void World::Impl::host_ticks() {
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    Output& o = outputs[i];
    if (o.falls_at && *o.falls_at <= now) {
      o.falls_at.reset();
      set_level(i, plan.chamber.actuators[i].output.safe, Cause::lost);
    }
    while (o.clock.next_wake().value_or(now + Duration{1}) <= now) {
      const OutputAction due = o.clock.tick(now);
      const bool over = due.kind == OutputAction::Kind::rest;
      set_level(i, due.level, over ? Cause::run_over : Cause::lost);
      if (due.lease_over) tell_fallen(i);
    }
  }
}

void World::Impl::renew() {
  next_renewal = now + renewal;
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    Output& o = outputs[i];
    if (!o.clock.on_loan()) continue;
    const Duration lease = plan.chamber.actuators[i].output.lease;
    ENSURE(o.clock.renew(lease, o.clock.sequence(), now));
    watch.renewed(i, now);
  }
}

// --- outside ------------------------------------------------------------------------------------

World::World(WorldPlan plan) : impl_(std::make_unique<Impl>(std::move(plan))) {}
World::~World() = default;
World::World(World&&) noexcept = default;
World& World::operator=(World&&) noexcept = default;

void World::observe(Observer* observer) { impl_->observer = observer; }
void World::run(Duration time) { impl_->run(impl_->now + time); }
Duration World::passed() const { return impl_->now - impl_->start; }
const Statistics& World::statistics() const { return impl_->statistics; }
const Watch& World::watch() const { return impl_->watch; }
const ChamberModel& World::model() const { return impl_->model; }
const Chamber& World::chamber() const {
  ENSURE(impl_->chamber.has_value());
  return *impl_->chamber;
}
Level World::level(std::size_t actuator) const { return impl_->plant.level(actuator); }
const std::vector<AlertChange>& World::alerts() const { return impl_->alerts; }

}  // namespace tubwarden::rehearsal
