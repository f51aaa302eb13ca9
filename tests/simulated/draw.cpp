#include "simulated/draw.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "rehearsal/dice.hpp"
#include "simulated/draw_trouble.hpp"

namespace tubwarden::rehearsal {
namespace {

QuantitySource source_of(Quantity q) {
  QuantitySource source;
  source.quantity = q;
  source.range_low = q == Quantity::humidity || q == Quantity::co2 ? 0.0 : -20.0;
  source.range_high = q == Quantity::co2 ? 5000.0 : q == Quantity::humidity ? 100.0 : 60.0;
  return source;
}

QuantityPlan draw_keep(Dice& dice, Quantity q) {
  QuantityPlan plan;
  Keep keep;
  switch (q) {
    case Quantity::humidity:
      keep.low = dice.between(60.0, 92.0);
      keep.high = keep.low + dice.between(2.0, 12.0);
      keep.high = std::min(keep.high, 99.0);
      if (dice.chance(0.2)) keep.form = Keep::Form::above;
      break;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      keep.low = dice.between(14.0, 25.0);
      keep.high = keep.low + dice.between(0.5, 4.0);
      break;
    case Quantity::co2:
      keep.form = Keep::Form::below;
      keep.high = dice.between(700.0, 4000.0);
      break;
  }
  plan.keep = keep;
  if (keep.form == Keep::Form::between && dice.chance(0.3)) {
    plan.glide = time_between(dice, minutes(10), hours(3));
  }
  if (dice.chance(0.5)) {
    Warn warn;
    warn.above = keep.high + 1.0;
    warn.on_delay = time_between(dice, seconds(0), minutes(20));
    plan.warn = warn;
  }
  return plan;
}

PhasePlan draw_phase(Dice& dice, const std::string& name) {
  PhasePlan phase;
  phase.name = name;
  const auto keep = [&](Quantity q, double probability) {
    if (dice.chance(probability)) phase.quantities[index_of(q)] = draw_keep(dice, q);
  };
  keep(Quantity::humidity, 0.85);
  // A phase keeps substrate or air, not both.
  keep(dice.chance(0.5) ? Quantity::air_temperature : Quantity::substrate_temperature, 0.7);
  keep(Quantity::co2, 0.5);
  if (dice.chance(0.4)) {
    phase.fresh_air =
        FreshAirFloor{dice.between(0.2, 3.0), time_between(dice, minutes(5), minutes(60))};
  }
  if (dice.chance(0.2)) phase.light = LightHours{dice.whole(0, 1439), dice.whole(0, 1439)};
  return phase;
}

std::shared_ptr<const Profile> draw_profile(Dice& dice) {
  auto profile = std::make_shared<Profile>();
  profile->name = "drawn";
  for (const char* name :
       {kPhaseColonization, kPhaseCasing, kPhasePinning, kPhaseFruiting, "resting"}) {
    profile->phases.push_back(draw_phase(dice, name));
  }
  PhasePlan empty;
  empty.name = kPhaseEmpty;
  profile->phases.push_back(empty);
  return profile;
}

RunLimits draw_limits(Dice& dice, Effect effect) {
  if (dice.chance(0.2)) return default_limits(effect);
  RunLimits limits;  // in whole milliseconds, as a file says them
  limits.shortest_run = milliseconds(dice.whole(0, dice.chance(0.3) ? 180'000 : 20'000));
  limits.shortest_rest = milliseconds(dice.whole(0, dice.chance(0.3) ? 300'000 : 30'000));
  if (dice.chance(0.5)) {
    limits.longest_run = limits.shortest_run + milliseconds(dice.whole(100, 60'000));
  }
  if (dice.chance(0.6)) limits.starts_per_hour = dice.whole(2, 120);
  return limits;
}

void add_actuator(Dice& dice, ChamberPlan& chamber, Effect effect, double low, double high) {
  ActuatorPlan a;
  a.id = std::string(name_of(effect));
  a.effect = effect;
  a.rate = dice.between(low, high);
  a.limits = draw_limits(dice, effect);
  a.output.id = {chamber.id, a.id};
  a.output.network = dice.chance(0.5);
  a.output.lease = seconds(dice.whole(3, 60));
  const bool rest_is_not_always_safe = effect == Effect::fresh_air || effect == Effect::stir;
  if (rest_is_not_always_safe && dice.chance(0.3)) a.output.safe = dice.chance(0.5) ? kRun : 300;
  chamber.actuators.push_back(a);
}

ChamberPlan draw_chamber(Dice& dice) {
  ChamberPlan chamber;
  chamber.id = "tub-1";
  chamber.leader = "tub-1";
  chamber.net_volume.litres = dice.between(10.0, 90.0);
  chamber.control = dice.chance(0.7) ? Control::portions : Control::hysteresis;
  const bool slow = dice.chance(0.5);  // sensors on a battery
  const auto sensor = [&](const char* id, std::vector<Quantity> quantities) {
    SensorPlan plan;
    plan.id = id;
    plan.stale_after = slow ? time_between(dice, minutes(4), minutes(15))
                            : time_between(dice, seconds(20), minutes(4));
    for (Quantity q : quantities) plan.quantities.push_back(source_of(q));
    if (dice.chance(0.15)) {
      plan.on_change = true;
      plan.at_least_every = time_between(dice, seconds(30), plan.stale_after + seconds(60));
    }
    chamber.sensors.push_back(plan);
  };
  sensor("air", {Quantity::humidity, Quantity::air_temperature, Quantity::co2});
  if (dice.chance(0.3)) sensor("air-2", {Quantity::humidity, Quantity::air_temperature});
  if (dice.chance(0.6)) sensor("bed", {Quantity::substrate_temperature});

  if (dice.chance(0.9)) add_actuator(dice, chamber, Effect::humidify, 10.0, 200.0);
  if (dice.chance(0.3)) add_actuator(dice, chamber, Effect::dehumidify, 5.0, 40.0);
  if (dice.chance(0.7)) add_actuator(dice, chamber, Effect::fresh_air, 0.3, 4.0);
  if (dice.chance(0.6)) add_actuator(dice, chamber, Effect::heat, 5.0, 40.0);
  if (dice.chance(0.5)) {
    // More would freeze so little air, for which the model is not made.
    const double litres = chamber.net_volume.litres;
    add_actuator(dice, chamber, Effect::cool, 0.1 * litres, 0.5 * litres);
  }
  if (dice.chance(0.3)) add_actuator(dice, chamber, Effect::stir, 1.0, 5.0);
  if (dice.chance(0.2)) add_actuator(dice, chamber, Effect::light, 2.0, 10.0);
  return chamber;
}

RoomPlan draw_room(Dice& dice, const RoomDay& day) {
  RoomPlan room;
  const auto source = [&](double fixed) {
    RoomSource drawn;
    if (dice.chance(0.3)) return drawn;
    if (dice.chance(0.5)) {
      drawn.fixed = fixed;
    } else {
      SensorPlan sensor;
      sensor.id = "room";
      sensor.stale_after = minutes(6);
      drawn.sensor = sensor;
    }
    return drawn;
  };
  room.temperature = source(day.mean_c);
  room.humidity = source(day.humidity_pct);
  room.co2 = source(day.co2_ppm);
  return room;
}

}  // namespace

namespace {

/// Most speak as cheap ones do; some hardly often enough to be believed, some too rarely, and a few
/// every few seconds.
Duration draw_rhythm(Dice& dice, const SensorPlan& sensor) {
  const double limit_s = seconds_of(sensor.stale_after);
  if (dice.chance(0.04)) return from_seconds(dice.between(1.0, 20.0));
  if (dice.chance(0.2)) return from_seconds(dice.between(0.4 * limit_s, 1.3 * limit_s));
  return from_seconds(dice.between(0.2 * limit_s, 0.6 * limit_s));
}

std::vector<PhaseStep> draw_phases(Dice& dice, const TubPlan& tub, Duration length) {
  std::vector<PhaseStep> steps;
  const int phases = dice.whole(1, 5);
  for (int i = 0; i < phases; ++i) {
    const auto& all = tub.profile->phases;
    const auto which = static_cast<std::size_t>(dice.whole(0, static_cast<int>(all.size()) - 1));
    steps.push_back(
        {i == 0 ? Duration{0} : time_between(dice, Duration{0}, length), tub.id, all[which].name});
  }
  return steps;
}

TubPlan draw_tub(Dice& dice, const std::string& id, const std::string& chamber) {
  TubPlan tub;
  tub.id = id;
  tub.chamber = chamber;
  tub.batch = "B-01";
  tub.profile = draw_profile(dice);
  if (dice.chance(0.5)) tub.substrate_ceiling_c = dice.between(20.0, 28.0);
  return tub;
}

void draw_model(Dice& dice, WorldPlan& plan) {
  const Load loads[] = {Load::empty, Load::pinning, Load::flush};
  plan.model = parameters_of(loads[dice.whole(0, 2)], plan.chamber.net_volume.litres);
  plan.model.tub.leak_per_h = dice.between(0.2, 6.0);
  auto& humidity = plan.model.sensors[index_of(Quantity::humidity)];
  humidity.lag_s = dice.between(3.0, 40.0);
  humidity.dead_s = dice.chance(0.5) ? dice.between(0.0, 10.0) : 0.0;
  humidity.quantum = dice.chance(0.3) ? dice.between(0.2, 2.0) : 0.1;
  // What it moves is not what its maker says.
  for (std::size_t i = 0; i < plan.chamber.actuators.size(); ++i) {
    plan.strengths.push_back(dice.chance(0.3) ? dice.between(0.1, 3.0) : 1.0);
  }
  plan.room_day = {dice.between(8.0, 28.0), dice.between(0.0, 5.0), dice.between(0.0, 24.0),
                   dice.between(25.0, 85.0), dice.between(400.0, 900.0)};
  plan.steps.rate_step = 1.0;  // no promise hangs on the last hundredth of a percent
  plan.start = {dice.between(12.0, 26.0), dice.between(40.0, 99.0), dice.between(420.0, 4000.0),
                dice.between(0.0, 86400.0)};
}

}  // namespace

WorldPlan draw_world(std::uint64_t seed, Duration length) {
  Dice dice(seed);
  WorldPlan plan;
  plan.seed = dice.next();
  plan.chamber = draw_chamber(dice);
  plan.tubs = {draw_tub(dice, plan.chamber.leader, plan.chamber.id)};
  if (dice.chance(0.15)) {
    plan.chamber.leader_named = true;
    plan.tubs.push_back(draw_tub(dice, "tub-2", plan.chamber.id));
  }
  draw_model(dice, plan);
  plan.room = draw_room(dice, plan.room_day);
  for (const SensorPlan& sensor : plan.chamber.sensors) {
    plan.rhythm.push_back(draw_rhythm(dice, sensor));
  }
  // Of a stream of its own, so that the rest of a world is what it was.
  Dice rules(seed ^ 0xb11d);
  for (ActuatorPlan& a : plan.chamber.actuators) {
    if (a.effect == Effect::stir || a.effect == Effect::light) continue;
    if (a.effect == Effect::fresh_air) continue;
    if (rules.chance(0.4)) a.blind = BlindRule::duty;
    a.cut_out = a.effect == Effect::heat && rules.chance(0.5);
  }
  plan.room_rhythm = time_between(dice, seconds(30), minutes(8));
  for (const TubPlan& tub : plan.tubs) {
    for (PhaseStep& step : draw_phases(dice, tub, length)) plan.phases.push_back(step);
  }
  std::stable_sort(plan.phases.begin(), plan.phases.end(),
                   [](const PhaseStep& a, const PhaseStep& b) { return a.at < b.at; });
  draw_trouble(dice, plan, length);
  return plan;
}

std::string told(const WorldPlan& plan) {
  std::string text = fmt::format("{:.1f} L, {:.2f} kg substrate, {:.2f} kg mushrooms, by {}\n",
                                 plan.chamber.net_volume.litres, plan.model.crop.substrate_kg,
                                 plan.model.crop.mushrooms_kg, name_of(plan.chamber.control));
  for (std::size_t i = 0; i < plan.chamber.sensors.size(); ++i) {
    text += fmt::format("  sensor {}: each {}, stale after {}\n", plan.chamber.sensors[i].id,
                        spoken(plan.rhythm[i]), spoken(plan.chamber.sensors[i].stale_after));
  }
  for (const ActuatorPlan& a : plan.chamber.actuators) {
    text += fmt::format("  {}: rate {:.1f}, run {}..{}, rest {}, {} starts an hour, safe {}{}\n",
                        a.id, *a.rate, spoken(a.limits.shortest_run), spoken(a.limits.longest_run),
                        spoken(a.limits.shortest_rest), a.limits.starts_per_hour, a.output.safe,
                        a.blind == BlindRule::duty ? ", blind duty" : "");
  }
  for (const TubPlan& tub : plan.tubs) {
    text += fmt::format(
        "  {}: ceiling {}\n", tub.id,
        tub.substrate_ceiling_c ? fmt::format("{:.1f} C", *tub.substrate_ceiling_c) : "none");
  }
  for (const PhaseStep& p : plan.phases) {
    text += fmt::format("  {:.1f} s: {} phase {}\n", seconds_of(p.at), p.tub, p.phase);
  }
  for (const HandStep& h : plan.hands) {
    text += fmt::format("  {:.3f} s: {} {} at {} for {}\n", seconds_of(h.at), name_of(h.kind),
                        h.actuator, h.level, spoken(h.length));
  }
  for (const Fault& f : plan.faults) {
    text += fmt::format("  {:.3f} s to {:.3f} s: {} {}, {:.2f}\n", seconds_of(f.from),
                        seconds_of(f.to), name_of(f.kind), f.index, f.amount);
  }
  return text;
}

}  // namespace tubwarden::rehearsal
