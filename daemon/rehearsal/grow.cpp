#include "rehearsal/grow.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/climate/flush.hpp"
#include "rehearsal/plant.hpp"
#include "rehearsal/room_day.hpp"

namespace tubwarden::rehearsal {
namespace {

/// Of a phase that says nothing of its length and has one that follows.
constexpr Duration kUnsaidLength = hours(14 * 24);
constexpr Duration kReadings = seconds(10);
/// A phase loop of no length would never end.
constexpr Duration kShortestStage = minutes(1);

class Assumed {
 public:
  explicit Assumed(std::vector<std::string>& all) : all_(all) {}
  void say(const std::string& text) {
    if (std::find(all_.begin(), all_.end(), text) == all_.end()) all_.push_back(text);
  }

 private:
  std::vector<std::string>& all_;
};

/// The middle of what is expected; nothing where nothing is said.
std::optional<Duration> said_length(const Expect& expect) {
  if (expect.from && expect.to) return (*expect.from + *expect.to) / 2;
  if (expect.to) return expect.to;
  if (expect.from) return expect.from;
  return expect.late;
}

/// When its plan goes on, or a grower who is asked and says so at once. What a reading decides is
/// not known beforehand.
std::optional<Duration> due_after(const PhasePlan& phase) {
  for (const auto& condition : phase.next_plan.when) {
    if (condition) return std::nullopt;
  }
  return phase.next_plan.after;
}

bool has_stages(const Profile& profile, const std::string& loop) {
  return std::any_of(profile.phases.begin(), profile.phases.end(),
                     [&](const PhasePlan& p) { return !loop.empty() && p.stage_of == loop; });
}

/// Walks whose stages begin when the steps say.
std::vector<Walk> walked(std::vector<Walk> walks, const std::vector<PhaseStep>& steps) {
  for (Walk& walk : walks) {
    std::size_t stage = 0;
    for (const PhaseStep& step : steps) {
      if (step.tub != walk.tub || stage >= walk.stages.size()) continue;
      walk.stages[stage].from = step.at;
      if (stage > 0) walk.stages[stage - 1].to = step.at;
      ++stage;
    }
    if (!walk.stages.empty()) {
      Stage& last = walk.stages.back();
      last.to = std::max(last.to, last.from);
    }
  }
  return walks;
}

Walk walk_of(const TubPlan& tub, const std::string& first, Duration length, Assumed& assumed) {
  Walk walk{tub.id, false, {}};
  Duration at{0};
  const PhasePlan* phase = tub.profile->find(first);
  std::map<std::string, int> entered;
  bool gone_by_plan = false;
  while (phase != nullptr && at < length) {
    const auto said = said_length(phase->expect);
    const auto due = due_after(*phase);
    const bool by_plan = phase->next_plan.how == NextPlan::How::go && phase->next_plan.judged();
    Duration lasts = due.value_or(said.value_or(phase->next.empty() ? length : kUnsaidLength));
    if (!due && !said && !phase->next.empty()) {
      assumed.say(fmt::format("{} of profile {} has no `expect`: it is played for {}.", phase->name,
                              tub.profile->name, spoken(kUnsaidLength)));
    }
    if (phase->next.empty()) lasts = length;
    lasts = std::max(lasts, kShortestStage);
    const Duration to = std::min(at + lasts, length);
    if (!knows_phase(phase->name) && phase->stage_of.empty()) {
      assumed.say(
          fmt::format("{} is a phase of the profile's own: its bed is played as a wet "
                      "casing without mushrooms.",
                      phase->name));
    }
    ++entered[phase->name];
    const bool loops = has_stages(*tub.profile, loop_of(*tub.profile, phase->name));
    const int flush = loops ? flush_in(*tub.profile, phase->name, entered) : 0;
    walk.stages.push_back({phase->name, at, to, flush, gone_by_plan});
    gone_by_plan = by_plan;
    at = to;
    const bool goes_on = !tub.is_shelf || phase->next == kPhaseGrain || phase->next == kPhaseEmpty;
    phase = tub.profile->find(goes_on ? phase->next : kPhaseEmpty);
  }
  // Every profile ends in `empty`, whether it says so or not.
  if (at < length) walk.stages.push_back({kPhaseEmpty, at, length});
  return walk;
}

ModelParameters model_of(const ChamberPlan& chamber, const BedStep& first) {
  ModelParameters model = parameters_of(Load::empty, first.bed.net_air_l);
  model.crop = first.bed.crop;
  for (const SensorPlan& sensor : chamber.sensors) {
    for (const QuantitySource& source : sensor.quantities) {
      SensorTrait& trait = model.sensors[index_of(source.quantity)];
      trait.quantum = std::max(trait.quantum, source.step.value_or(0.0));
    }
  }
  return model;
}

std::optional<Error> unplayable(const ChamberPlan& chamber, const Walk& leader) {
  if (chamber.sensors.empty()) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} cannot be rehearsed: it has no sensor, so there is nothing that "
                             "could be decided by; give it one under sensors:",
                             chamber.id)};
  }
  for (const Stage& stage : leader.stages) {
    if (chamber.net_volume.in(stage.phase) > 0.0) continue;
    return Error{
        ErrorCode::bad_input,
        fmt::format("{} cannot be rehearsed: its net_volume says nothing for the phase {}, "
                    "and the model needs to know how much air there is",
                    chamber.id, stage.phase)};
  }
  return std::nullopt;
}

void assume_parts(const ChamberPlan& chamber, bool heats_substrate, Assumed& assumed) {
  for (const ActuatorPlan& a : chamber.actuators) {
    if (a.effect == Effect::heat) {
      assumed.say(fmt::format("{} of {} heats its {}.", a.id, chamber.id,
                              heats_substrate ? "substrate" : "air"));
    }
    if (a.rate) continue;
    assumed.say(fmt::format("{} of {} has no rate: it is played as one of {} {}.", a.id, chamber.id,
                            trimmed(usual_rate(a.effect)), rate_unit(a.effect)));
  }
}

/// A shelf holds jars, whatever its profile goes on with.
bool begins_with(const TubPlan& tub, const std::string& phase) {
  if (!tub.profile || tub.profile->find(phase) == nullptr) return false;
  return !tub.is_shelf || phase == kPhaseGrain || phase == kPhaseEmpty;
}

std::vector<TubPlan> tubs_in(const GrowPlan& grow, const ChamberPlan& chamber) {
  std::vector<TubPlan> tubs;
  for (const TubPlan& tub : grow.tubs) {
    if (tub.chamber == chamber.id && tub.profile) tubs.push_back(tub);
  }
  return tubs;
}

std::vector<PhaseStep> phases_of(const std::vector<Walk>& walks) {
  std::vector<PhaseStep> phases;
  for (const Walk& walk : walks) {
    for (const Stage& stage : walk.stages) {
      phases.push_back({stage.from, walk.tub, stage.phase, stage.by_plan});
    }
  }
  std::stable_sort(phases.begin(), phases.end(),
                   [](const PhaseStep& a, const PhaseStep& b) { return a.at < b.at; });
  return phases;
}

/// The air begins as the room's.
StartAir start_of(const GrowOrder& order) {
  RoomClock room(order.room, order.start_second_of_day);
  const RoomAir air = room.at(0.0);
  return {air.celsius, room.humidity_pct(air.celsius), ppm_from_co2_g_g(air.co2_g_g),
          order.start_second_of_day};
}

Result<GrowAir> plan_air(const GrowPlan& grow, const ChamberPlan& chamber, const GrowOrder& order,
                         std::uint64_t seed, Assumed& assumed) {
  GrowAir air;
  WorldPlan& plan = air.plan;
  plan.chamber = chamber;
  if (order.control) plan.chamber.control = *order.control;
  plan.tubs = tubs_in(grow, chamber);
  for (const TubPlan& tub : plan.tubs) {
    const bool begins = begins_with(tub, order.from);
    air.walks.push_back(walk_of(tub, begins ? order.from : tub.phase, order.length, assumed));
    air.walks.back().leads = tub.id == chamber.leader;
  }
  std::stable_partition(air.walks.begin(), air.walks.end(), [](const Walk& w) { return w.leads; });
  if (air.walks.empty() || !air.walks.front().leads) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} cannot be rehearsed: no tub leads it", chamber.id)};
  }
  if (const auto why = unplayable(chamber, air.walks.front())) return *why;
  plan.heats_substrate = mat_in(chamber);
  assume_parts(chamber, *plan.heats_substrate, assumed);
  plan.room = grow.room;
  plan.room_day = order.room;
  plan.phases = phases_of(air.walks);
  plan.beds = beds_of(plan.chamber, plan.tubs, air.walks, order.start_second_of_day);
  plan.beds_by = [chamber = plan.chamber, tubs = plan.tubs, walks = air.walks,
                  second = order.start_second_of_day](const std::vector<PhaseStep>& steps) {
    return beds_of(chamber, tubs, walked(walks, steps), second);
  };
  plan.model = model_of(plan.chamber, plan.beds.front());
  plan.start = start_of(order);
  plan.seed = seed;
  for (const SensorPlan& sensor : chamber.sensors) {
    plan.rhythm.push_back(std::min<Duration>(kReadings, sensor.stale_after / 3));
  }
  if (const auto found = order.faults.find(chamber.id); found != order.faults.end()) {
    plan.faults = found->second;
  }
  return air;
}

void assume_room(const RoomPlan& room, const RoomDay& day, Assumed& assumed) {
  const RoomSeries none, &told = day.series ? *day.series : none;
  std::string text;
  const auto part = [&](const std::string& more) { text += (text.empty() ? "" : ", ") + more; };
  if (told.celsius.empty()) {
    part(fmt::format("{} C on average, +- {} C through the day", trimmed(day.mean_c),
                     trimmed(day.swing_c)));
  }
  if (told.humidity_pct.empty()) {
    part(fmt::format("{} % RH at {} C", trimmed(day.humidity_pct), trimmed(day.mean_c)));
  }
  if (told.co2_ppm.empty()) part(fmt::format("{} ppm CO2", trimmed(day.co2_ppm)));
  if (!text.empty()) assumed.say(fmt::format("The room has {}.", text));
  if (!day.series) return;
  assumed.say(fmt::format("The room's file tells {}; then it begins again.",
                          spoken(from_seconds(told.length_s))));
  if (room.temperature.fixed || room.humidity.fixed || room.co2.fixed) {
    assumed.say("The control is told the room's fixed values of tubwarden.yaml, not the file's.");
  }
}

void assume_model(const PlannedGrow& planned, Assumed& assumed) {
  bool casing = false, covered = false, flushes = false, together = false;
  for (const GrowAir& air : planned.airs) {
    together = together || air.walks.size() > 1;
    for (const Walk& walk : air.walks) {
      for (const Stage& stage : walk.stages) {
        covered = covered || stage.phase == kPhaseColonization;
        flushes = flushes || stage.phase == kPhaseFruiting;
        casing = casing || stage.phase == kPhasePinning || stage.phase == kPhaseCasing;
      }
    }
  }
  assumed.say("The air begins as the room's. A reading comes each 10 s, by usual sensors.");
  if (covered) assumed.say("A spawn run is covered: a fifth of a casing's evaporation gets out.");
  if (casing || flushes) {
    assumed.say("The casing is watered up each morning at 8 h, beyond what the mister gives it.");
  }
  if (flushes) {
    assumed.say(
        "A flush takes 8 days: mushrooms double daily for 5 up to a tenth of the substrate, are "
        "picked by day 7, and a day is bare; the third gives 60 %, later ones 40 %.");
  }
  if (together) {
    assumed.say("What shares an air shares one substrate temperature.");
  }
}

}  // namespace

bool mat_in(const ChamberPlan& chamber) {
  if (chamber.id != chamber.leader) return false;
  return std::any_of(chamber.sensors.begin(), chamber.sensors.end(), [](const SensorPlan& s) {
    return std::any_of(s.quantities.begin(), s.quantities.end(), [](const QuantitySource& q) {
      return q.quantity == Quantity::substrate_temperature;
    });
  });
}

std::string_view rate_unit(Effect effect) {
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return "g/h";
    case Effect::fresh_air:
    case Effect::stir:
      return "m3/h";
    case Effect::heat:
    case Effect::cool:
    case Effect::light:
      break;
  }
  return "W";
}

RoomDay room_day_of(const RoomPlan& room) {
  RoomDay day;
  day.mean_c = room.temperature.fixed.value_or(day.mean_c);
  day.humidity_pct = room.humidity.fixed.value_or(day.humidity_pct);
  day.co2_ppm = room.co2.fixed.value_or(day.co2_ppm);
  return day;
}

Result<PlannedGrow> plan_grow(const GrowPlan& grow, const GrowOrder& order) {
  PlannedGrow planned;
  Assumed assumed(planned.assumed);
  if (!order.from.empty() &&
      std::none_of(grow.tubs.begin(), grow.tubs.end(),
                   [&](const TubPlan& tub) { return begins_with(tub, order.from); })) {
    return Error{ErrorCode::not_found,
                 fmt::format("no tub's profile has a phase '{}' to begin with", order.from)};
  }
  std::uint64_t seed = order.seed;
  for (const ChamberPlan& chamber : grow.chambers) {
    ++seed;
    if (tubs_in(grow, chamber).empty()) {
      assumed.say(fmt::format("{} is left out: nothing stands in it.", chamber.id));
      continue;
    }
    auto air = plan_air(grow, chamber, order, seed, assumed);
    if (!air) return air.error();
    planned.airs.push_back(std::move(air).value());
  }
  if (planned.airs.empty()) {
    return Error{ErrorCode::bad_input, "no tub stands in an air that could be rehearsed"};
  }
  assume_room(grow.room, order.room, assumed);
  assume_model(planned, assumed);
  return planned;
}

}  // namespace tubwarden::rehearsal
