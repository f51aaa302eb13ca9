#include "settings/fit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/climate/hysteresis.hpp"
#include "core/fit/fan.hpp"
#include "settings/fit_judge.hpp"

namespace tubwarden {
namespace fit {

Room room_of(const RoomPlan& plan) {
  Room room;
  room.temperature_fixed = plan.temperature.fixed.has_value();
  room.humidity_fixed = plan.humidity.fixed.has_value();
  room.moist.t.value = plan.temperature.fixed.value_or(room.moist.t.value);
  room.moist.rh.value = plan.humidity.fixed.value_or(room.moist.rh.value);
  room.co2.value = plan.co2.fixed.value_or(room.co2.value);
  return room;
}

std::vector<const ActuatorPlan*> PhaseAir::with(Effect effect) const {
  std::vector<const ActuatorPlan*> parts;
  for (const ActuatorPlan& actuator : chamber.actuators) {
    if (actuator.effect == effect) parts.push_back(&actuator);
  }
  return parts;
}

std::optional<Band> PhaseAir::band(Quantity q) const {
  const auto& plan = phase.of(q);
  if (!plan || !plan->keep) return std::nullopt;
  return kept_band(*plan->keep, room.co2.value).band;
}

std::optional<Moist> PhaseAir::kept() const {
  const auto humidity = band(Quantity::humidity);
  if (!humidity) return std::nullopt;
  return Moist{t, {humidity->middle()}};
}

bool PhaseAir::cased() const {
  return phase.name != kPhaseGrain && phase.name != kPhaseColonization && tubs > 0;
}

}  // namespace fit

namespace {

using fit::Judged;
using fit::PhaseAir;

Celsius air_temperature_in(const PhasePlan& phase, const RoomPlan& room) {
  for (Quantity q : {Quantity::air_temperature, Quantity::substrate_temperature}) {
    const auto& plan = phase.of(q);
    if (plan && plan->keep) return {(plan->keep->low + plan->keep->high) / 2.0};
  }
  return {room.temperature.fixed.value_or(fit::kUsualAir.value)};
}

/// Mushrooms stand in fruiting, and perhaps in a phase of the profile's own.
bool may_flush(const std::string& phase) {
  for (const char* without : {kPhaseGrain, kPhaseColonization, kPhaseCasing, kPhasePinning}) {
    if (phase == without) return false;
  }
  return true;
}

PhaseAir phase_air(const GrowPlan& grow, const ChamberPlan& chamber, const PhasePlan& phase) {
  PhaseAir air{chamber,
               phase,
               fit::room_of(grow.room),
               {chamber.net_volume.in(phase.name)},
               air_temperature_in(phase, grow.room),
               0.0};
  for (const TubPlan& tub : grow.tubs) {
    if (tub.chamber != chamber.id || tub.is_shelf) continue;
    ++air.tubs;
    if (!tub.substrate_kg) air.substrate_kg.reset();
    if (air.substrate_kg) *air.substrate_kg += *tub.substrate_kg;
  }
  if (air.tubs == 0) air.substrate_kg.reset();
  air.own_air = air.tubs == 1 && grow.tub(chamber.id) != nullptr;
  if (air.substrate_kg && may_flush(phase.name)) {
    air.mushrooms_kg = fit::kFlushKgPerKg * *air.substrate_kg;
  }
  return air;
}

/// The phases that the leader can be in: a shelf's is grain, a tub's is any but grain unless its
/// file says so.
bool may_be_in(const TubPlan& leader, const std::string& phase) {
  if (phase == kPhaseEmpty) return false;
  const bool grain = phase == kPhaseGrain;
  return leader.is_shelf ? grain : !grain || leader.phase == phase;
}

struct Told {
  Judged judged;
  std::string phase;
};

/// One line for what several phases say of one thing: the worst mark, the worst of its sums.
std::vector<FitLine> joined(const std::string& tub, const std::vector<Told>& told) {
  std::vector<FitLine> lines;
  std::vector<const Judged*> worst;
  for (const Told& one : told) {
    const Judged& judged = one.judged;
    const auto same = std::find_if(worst.begin(), worst.end(), [&](const Judged* other) {
      return other->about == judged.about && other->subject == judged.subject;
    });
    if (same == worst.end()) {
      worst.push_back(&judged);
      lines.push_back({tub, judged.about, judged.mark, {one.phase}, judged.text});
      continue;
    }
    FitLine& line = lines[static_cast<std::size_t>(same - worst.begin())];
    if (judged.mark > line.mark) continue;
    if (judged.mark < line.mark) line.phases.clear();
    const bool worse = line.phases.empty() || judged.strain > (*same)->strain;
    line.phases.insert(worse ? line.phases.begin() : line.phases.end(), one.phase);
    line.mark = judged.mark;
    if (!worse) continue;
    *same = &judged;
    line.text = judged.text;
  }
  return lines;
}

void judge_air(const PhaseAir& air, std::vector<Told>& told) {
  fit::Verdicts verdicts;
  if (air.air.value > 0) {
    fit::judge_mist(air, verdicts);
    fit::judge_water(air, verdicts);
    fit::judge_means(air, verdicts);
    fit::judge_fan(air, verdicts);
    fit::judge_breath(air, verdicts);
    fit::judge_heat(air, verdicts);
  }
  fit::judge_sensors(air, verdicts);
  for (Judged& judged : verdicts) told.push_back({std::move(judged), air.phase.name});
}

std::vector<FitLine> lines_of(const GrowPlan& grow, const TubPlan& tub) {
  const ChamberPlan* chamber = grow.chamber(tub.chamber);
  const TubPlan* leader = chamber ? grow.tub(chamber->leader) : nullptr;
  if (!leader || !leader->profile) return {};
  std::vector<Told> told;
  for (const PhasePlan& phase : leader->profile->phases) {
    if (!may_be_in(*leader, phase.name)) continue;
    const PhaseAir air = phase_air(grow, *chamber, phase);
    if (leader == &tub) judge_air(air, told);
    fit::Verdicts ceiling;
    fit::judge_ceiling(air, tub, ceiling);
    for (Judged& judged : ceiling) told.push_back({std::move(judged), phase.name});
  }
  auto lines = joined(tub.id, told);
  std::stable_sort(lines.begin(), lines.end(),
                   [](const FitLine& a, const FitLine& b) { return a.mark < b.mark; });
  return lines;
}

}  // namespace

std::string_view word_of(FitMark mark) {
  switch (mark) {
    case FitMark::cannot:
      return "cannot work";
    case FitMark::tight:
      return "tight";
    case FitMark::unknown:
      return "not known";
    case FitMark::fits:
      return "fits";
  }
  ENSURE(false);
}

std::string_view name_of(FitAbout about) {
  switch (about) {
    case FitAbout::mist_step:
      return "mist_step";
    case FitAbout::mist_reach:
      return "mist_reach";
    case FitAbout::mist_water:
      return "mist_water";
    case FitAbout::wetting:
      return "wetting";
    case FitAbout::drying:
      return "drying";
    case FitAbout::fan_step:
      return "fan_step";
    case FitAbout::floor:
      return "floor";
    case FitAbout::co2:
      return "co2";
    case FitAbout::warming:
      return "warming";
    case FitAbout::cooling:
      return "cooling";
    case FitAbout::sensor:
      return "sensor";
    case FitAbout::ceiling:
      return "ceiling";
  }
  ENSURE(false);
}

std::vector<FitLine> fit_of(const GrowPlan& grow) {
  std::vector<FitLine> all;
  for (const TubPlan& tub : grow.tubs) {
    for (FitLine& line : lines_of(grow, tub)) all.push_back(std::move(line));
  }
  return all;
}

}  // namespace tubwarden
