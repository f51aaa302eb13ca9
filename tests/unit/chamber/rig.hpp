// A chamber on a hand clock: a plan with one actuator of each kind, a profile, and what it said.
// Threading: one test thread. Failure: gtest's.
#pragma once

#include <gtest/gtest.h>

#include <array>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "core/chamber/chamber.hpp"

namespace tubwarden {

/// Actuators of the rig by their index in the plan. The fan stands before the mister and the stir
/// before all, so that nothing can lean on the order of the file.
enum Part : std::size_t { stir, fan, mister, mat, cooler, lamp, dryer };

/// Sensors of the rig by their index.
enum Sensor : std::size_t { air_sensor, bed_sensor };

struct Plans {
  Profile profile;
  ChamberPlan chamber;
  std::vector<TubPlan> tubs;
  RoomPlan room;

  PhasePlan& phase(const std::string& name) {
    for (PhasePlan& p : profile.phases) {
      if (p.name == name) return p;
    }
    profile.phases.push_back({});
    profile.phases.back().name = name;
    return profile.phases.back();
  }
  QuantityPlan& keep(const std::string& phase_name, Quantity q, double low, double high) {
    auto& plan = phase(phase_name).quantities[index_of(q)];
    if (!plan) plan.emplace();
    plan->keep = Keep{Keep::Form::between, low, high};
    return *plan;
  }
  QuantityPlan& keep_below(const std::string& phase_name, Quantity q, double high) {
    keep(phase_name, q, 0.0, high).keep->form = Keep::Form::below;
    return *phase(phase_name).quantities[index_of(q)];
  }
  QuantityPlan& keep_above(const std::string& phase_name, Quantity q, double low) {
    keep(phase_name, q, low, 0.0).keep->form = Keep::Form::above;
    return *phase(phase_name).quantities[index_of(q)];
  }
  void warn(const std::string& phase_name, Quantity q, Warn limits) {
    auto& plan = phase(phase_name).quantities[index_of(q)];
    if (!plan) plan.emplace();
    plan->warn = limits;
  }
  ActuatorPlan& part(Part p) { return chamber.actuators[p]; }
  void room_is(double celsius, double humidity) {
    room.temperature.fixed = celsius;
    room.humidity.fixed = humidity;
  }
  /// For tests of hours between two readings.
  void never_stale() {
    for (SensorPlan& s : chamber.sensors) s.stale_after = hours(24 * 365);
  }
};

inline QuantitySource source_of(Quantity q) {
  QuantitySource source;
  source.quantity = q;
  source.jump = 1e6;  // tests of control move the air at will
  return source;
}

inline Plans plain_plans() {
  Plans s;
  s.profile.name = "button";
  s.chamber.id = "tub-1";
  s.chamber.leader = "tub-1";
  s.chamber.net_volume.litres = 40.0;
  s.chamber.control = Control::hysteresis;  // portions have tests of their own
  SensorPlan air;
  air.id = "air";
  air.topic = "cellar/air";
  air.stale_after = minutes(2);
  air.quantities = {source_of(Quantity::humidity), source_of(Quantity::air_temperature),
                    source_of(Quantity::co2)};
  SensorPlan bed;
  bed.id = "bed";
  bed.topic = "cellar/bed";
  bed.stale_after = minutes(5);
  bed.quantities = {source_of(Quantity::substrate_temperature)};
  s.chamber.sensors = {air, bed};
  const std::pair<const char*, Effect> parts[] = {
      {"stir", Effect::stir},        {"fan", Effect::fresh_air}, {"mister", Effect::humidify},
      {"mat", Effect::heat},         {"cooler", Effect::cool},   {"lamp", Effect::light},
      {"dryer", Effect::dehumidify},
  };
  for (const auto& [id, effect] : parts) {
    ActuatorPlan a;
    a.id = id;
    a.effect = effect;
    a.output.id = {"tub-1", id};
    a.output.driver = "simulated";
    s.chamber.actuators.push_back(a);
  }
  s.part(fan).rate = 2.0;
  TubPlan tub;
  tub.id = "tub-1";
  tub.chamber = "tub-1";
  tub.batch = "B-07";
  s.tubs = {tub};
  s.phase("fruiting");
  s.phase("empty");
  return s;
}

/// A command that was heard, and when.
struct Heard {
  Instant at;
  OutputCommand command;
};

class Rig {
 public:
  using Change = std::function<void(Plans&)>;

  explicit Rig(const Change& change = {}) : plans_(plain_plans()) {
    if (change) change(plans_);
    chamber_ = std::make_unique<Chamber>(plans_.chamber, tubs(), plans_.room, now);
  }

  /// Every output obeys, and the leader's phase began `ago`.
  Rig& start(const std::string& phase, Duration ago = Duration{0}) {
    for (std::size_t i = 0; i < plans_.chamber.actuators.size(); ++i) {
      step(event::OutputUsable{i, true, ""});
    }
    return in_phase(phase, ago);
  }
  Rig& in_phase(const std::string& phase, Duration ago = Duration{0}) {
    step(event::PhaseIs{{plans_.chamber.leader, phase, now - ago, {}}});
    return *this;
  }

  Effects step(const Event& event) {
    if (const auto* o = std::get_if<event::OutputUsable>(&event)) fall(*o);
    last = chamber_->step(event, now);
    take();
    return last;
  }
  Effects adopt(const Change& change) {
    change(plans_);
    last = chamber_->adopt(plans_.chamber, tubs(), plans_.room, now);
    take();
    return last;
  }
  Effects reads(Quantity q, double value, Sensor sensor) {
    return step(event::Reading{sensor, q, value, false, false, Duration{0}});
  }
  Effects reads(Quantity q, double value) {
    return reads(q, value, q == Quantity::substrate_temperature ? bed_sensor : air_sensor);
  }
  Effects humidity(double v) { return reads(Quantity::humidity, v); }
  Effects air(double v) { return reads(Quantity::air_temperature, v); }
  Effects substrate(double v) { return reads(Quantity::substrate_temperature, v); }
  Effects co2(double v) { return reads(Quantity::co2, v); }

  /// Lets time pass as the shell does: a Tick whenever the chamber asked for one.
  Rig& wait(Duration d) {
    const Instant end = now + d;
    while (last.next_wake <= end) {
      EXPECT_GT(last.next_wake, now) << "a wake that is not ahead would spin";
      if (last.next_wake <= now) break;
      now = last.next_wake;
      step(event::Tick{});
    }
    now = end;
    return *this;
  }
  /// Moves the clock and looks once, asked for or not.
  Effects at(Duration later) {
    now += later;
    return step(event::Tick{});
  }

  /// What the output shows: the last command, and a timed run's own end.
  Level level(Part part) const {
    for (std::size_t i = heard.size(); i > fallen_.at(part).first; --i) {
      const Heard* const it = &heard[i - 1];
      if (it->command.actuator != part) continue;
      const bool over = it->command.run > Duration{0} && now >= it->at + it->command.run;
      return over ? kRest : it->command.level;
    }
    return plans_.chamber.actuators[part].output.safe;
  }
  bool runs(Part part) const { return level(part) == kRun; }
  std::size_t commands(Part part) const {
    std::size_t count = 0;
    for (const Heard& h : heard) count += h.command.actuator == part ? 1 : 0;
    return count;
  }
  const OutputCommand& last_command(Part part) const {
    for (auto it = heard.rbegin(); it != heard.rend(); ++it) {
      if (it->command.actuator == part) return it->command;
    }
    static const OutputCommand none;
    ADD_FAILURE() << "never commanded";
    return none;
  }
  std::string why(Part part) const { return chamber_->actuators(now)[part].why; }
  QuantityView view(Quantity q) const { return chamber_->air(now)[index_of(q)]; }
  /// "raised humidity_low" or "returned humidity_low", in order, and forgets them.
  std::vector<std::string> alerts() {
    std::vector<std::string> told;
    for (const AlertChange& a : std::exchange(alerted, {})) {
      told.push_back((a.raised ? "raised " : "returned ") + a.alert.key.place + "." +
                     a.alert.key.cause);
    }
    return told;
  }

  /// The texts of the standing alerts.
  std::string alerts_text() const {
    std::string all;
    for (const Alert& a : chamber_->alerts()) all += a.text + "\n";
    return all;
  }

  Chamber& chamber() { return *chamber_; }
  const Chamber& chamber() const { return *chamber_; }

  Instant now{hours(1000)};
  Effects last;
  std::vector<Heard> heard;
  std::vector<AlertChange> alerted;
  std::vector<GlideStart> glides;

 private:
  /// A driver that goes or comes stands at its safe level: what it was told before is over.
  void fall(const event::OutputUsable& o) {
    auto& [from, usable] = fallen_.at(o.actuator);
    if (usable == o.usable) return;
    usable = o.usable;
    from = heard.size();
  }
  std::vector<TubPlan> tubs() {
    const auto profile = std::make_shared<const Profile>(plans_.profile);
    for (TubPlan& t : plans_.tubs) t.profile = profile;
    return plans_.tubs;
  }
  void take() {
    Level before = kRest;
    for (const OutputCommand& c : last.outputs) {
      EXPECT_GE(c.level, before) << "rests come before runs";
      before = c.level;
      heard.push_back({now, c});
    }
    for (const AlertChange& a : last.alerts) alerted.push_back(a);
    for (const GlideStart& g : last.glides) glides.push_back(g);
    EXPECT_GT(last.next_wake, now);
  }

  Plans plans_;
  std::unique_ptr<Chamber> chamber_;
  /// From which command on an output's counts, and whether its driver obeys.
  std::array<std::pair<std::size_t, bool>, 7> fallen_{};
};

}  // namespace tubwarden
