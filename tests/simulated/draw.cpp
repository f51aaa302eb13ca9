#include "draw.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "rehearsal/dice.hpp"

namespace tubwarden::rehearsal {
namespace {

Duration time_between(Dice& dice, Duration low, Duration high) {
  return low + from_seconds(seconds_of(high - low) * dice.unit());
}

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
  RunLimits limits;
  limits.shortest_run = time_between(dice, milliseconds(0), seconds(dice.chance(0.3) ? 180 : 20));
  limits.shortest_rest = time_between(dice, milliseconds(0), seconds(dice.chance(0.3) ? 300 : 30));
  if (dice.chance(0.5)) {
    limits.longest_run = limits.shortest_run + time_between(dice, milliseconds(100), seconds(60));
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
  const auto sensor = [&](const char* id, std::vector<Quantity> quantities) {
    SensorPlan plan;
    plan.id = id;
    plan.stale_after = time_between(dice, seconds(20), minutes(4));
    for (Quantity q : quantities) plan.quantities.push_back(source_of(q));
    chamber.sensors.push_back(plan);
  };
  sensor("air", {Quantity::humidity, Quantity::air_temperature, Quantity::co2});
  if (dice.chance(0.3)) sensor("air-2", {Quantity::humidity, Quantity::air_temperature});
  if (dice.chance(0.6)) sensor("bed", {Quantity::substrate_temperature});

  if (dice.chance(0.9)) add_actuator(dice, chamber, Effect::humidify, 10.0, 200.0);
  if (dice.chance(0.3)) add_actuator(dice, chamber, Effect::dehumidify, 5.0, 40.0);
  if (dice.chance(0.7)) add_actuator(dice, chamber, Effect::fresh_air, 0.3, 4.0);
  if (dice.chance(0.6)) add_actuator(dice, chamber, Effect::heat, 5.0, 40.0);
  if (dice.chance(0.5)) add_actuator(dice, chamber, Effect::cool, 5.0, 40.0);
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
      sensor.stale_after = minutes(3);
      drawn.sensor = sensor;
    }
    return drawn;
  };
  room.temperature = source(day.mean_c);
  room.humidity = source(day.humidity_pct);
  room.co2 = source(day.co2_ppm);
  return room;
}

Fault draw_fault(Dice& dice, const ChamberPlan& chamber, Duration length) {
  using Kind = Fault::Kind;
  constexpr Kind kinds[] = {Kind::sensor_dead, Kind::sensor_gone,    Kind::sensor_stuck,
                            Kind::broker_away, Kind::actuator_dead,  Kind::lid_open,
                            Kind::daemon_away, Kind::output_unusable};
  Fault fault;
  fault.kind = kinds[dice.whole(0, static_cast<int>(std::size(kinds)) - 1)];
  const bool of_sensor = fault.kind == Kind::sensor_dead || fault.kind == Kind::sensor_gone ||
                         fault.kind == Kind::sensor_stuck;
  const bool of_output = fault.kind == Kind::actuator_dead || fault.kind == Kind::output_unusable;
  const std::size_t count = of_sensor ? chamber.sensors.size() : chamber.actuators.size();
  if ((of_sensor || of_output) && count > 0) {
    fault.index = static_cast<std::size_t>(dice.whole(0, static_cast<int>(count) - 1));
  }
  fault.from = time_between(dice, Duration{0}, length);
  fault.to = fault.from + time_between(dice, milliseconds(200),
                                       dice.chance(0.5) ? seconds(30) : Duration(minutes(40)));
  return fault;
}

}  // namespace

WorldPlan draw_world(std::uint64_t seed, Duration length) {
  Dice dice(seed);
  WorldPlan plan;
  plan.seed = dice.next();
  plan.chamber = draw_chamber(dice);
  TubPlan tub;
  tub.id = tub.chamber = plan.chamber.id;
  tub.batch = "B-01";
  tub.profile = draw_profile(dice);
  if (dice.chance(0.5)) tub.substrate_ceiling_c = dice.between(20.0, 28.0);
  plan.tubs = {tub};

  const Load loads[] = {Load::empty, Load::pinning, Load::flush};
  plan.model = parameters_of(loads[dice.whole(0, 2)], plan.chamber.net_volume.litres);
  plan.model.tub.leak_per_h = dice.between(0.2, 6.0);
  plan.room_day = {dice.between(8.0, 28.0), dice.between(0.0, 5.0), dice.between(0.0, 24.0),
                   dice.between(25.0, 85.0), dice.between(400.0, 900.0)};
  plan.room = draw_room(dice, plan.room_day);
  plan.start = {dice.between(12.0, 26.0), dice.between(40.0, 99.0), dice.between(420.0, 4000.0),
                dice.between(0.0, 86400.0)};
  for (const SensorPlan& sensor : plan.chamber.sensors) {
    // Some speak hardly often enough to be believed, some too rarely.
    const double limit_s = seconds_of(sensor.stale_after);
    plan.rhythm.push_back(from_seconds(dice.between(1.0, dice.chance(0.2) ? 1.3 * limit_s : 20.0)));
  }
  const int phases = dice.whole(1, 5);
  for (int i = 0; i < phases; ++i) {
    const auto& all = tub.profile->phases;
    const auto which = static_cast<std::size_t>(dice.whole(0, static_cast<int>(all.size()) - 1));
    plan.phases.push_back(
        {i == 0 ? Duration{0} : time_between(dice, Duration{0}, length), tub.id, all[which].name});
  }
  std::sort(plan.phases.begin(), plan.phases.end(),
            [](const PhaseStep& a, const PhaseStep& b) { return a.at < b.at; });
  const int faults = dice.whole(0, 8);
  for (int i = 0; i < faults; ++i) plan.faults.push_back(draw_fault(dice, plan.chamber, length));
  return plan;
}

std::string told(const WorldPlan& plan) {
  std::string text = fmt::format("{:.1f} L, {:.2f} kg substrate, {:.2f} kg mushrooms\n",
                                 plan.chamber.net_volume.litres, plan.model.crop.substrate_kg,
                                 plan.model.crop.mushrooms_kg);
  for (std::size_t i = 0; i < plan.chamber.sensors.size(); ++i) {
    text += fmt::format("  sensor {}: each {}, stale after {}\n", plan.chamber.sensors[i].id,
                        spoken(plan.rhythm[i]), spoken(plan.chamber.sensors[i].stale_after));
  }
  for (const ActuatorPlan& a : plan.chamber.actuators) {
    text += fmt::format("  {}: rate {:.1f}, run {}..{}, rest {}, {} starts an hour, safe {}\n",
                        a.id, *a.rate, spoken(a.limits.shortest_run), spoken(a.limits.longest_run),
                        spoken(a.limits.shortest_rest), a.limits.starts_per_hour, a.output.safe);
  }
  for (const PhaseStep& p : plan.phases) {
    text += fmt::format("  {:.1f} s: phase {}\n", seconds_of(p.at), p.phase);
  }
  for (const Fault& f : plan.faults) {
    text += fmt::format("  {:.3f} s to {:.3f} s: {} {}\n", seconds_of(f.from), seconds_of(f.to),
                        name_of(f.kind), f.index);
  }
  return text;
}

}  // namespace tubwarden::rehearsal
