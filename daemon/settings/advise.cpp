#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/fit/band.hpp"
#include "core/fit/fan.hpp"
#include "core/fit/water.hpp"
#include "settings/cross_check.hpp"

namespace tubwarden {
namespace {

constexpr double kUsualAirC = 18.0;  ///< where a phase keeps no temperature

/// One air and the plan it keeps.
struct Air {
  ReadFolder& folder;
  const ReadChamber& read;
  const ChamberPlan& plan;
  const Profile& profile;  ///< the leader's
  const std::vector<ReadTub*>& tubs;

  void warn(Place at, std::string text) const { folder.warning(read.file, at, std::move(text)); }
};

std::string list(const std::vector<std::string>& words) {
  if (words.size() < 2) return fmt::format("{}", fmt::join(words, ""));
  return fmt::format("{} and {}", fmt::join(words.begin(), words.end() - 1, ", "), words.back());
}

bool senses(const ChamberPlan& chamber, Quantity q) {
  return std::any_of(chamber.sensors.begin(), chamber.sensors.end(), [&](const SensorPlan& s) {
    return std::any_of(s.quantities.begin(), s.quantities.end(),
                       [&](const QuantitySource& source) { return source.quantity == q; });
  });
}

template <class Test>
std::vector<std::string> phases_where(const Profile& profile, Test test) {
  std::vector<std::string> names;
  for (const PhasePlan& phase : profile.phases) {
    if (test(phase)) names.push_back(phase.name);
  }
  return names;
}

bool keeps(const PhasePlan& phase, Quantity q) { return phase.of(q) && phase.of(q)->keep; }

bool keeps_temperature(const PhasePlan& phase) {
  return keeps(phase, Quantity::air_temperature) || keeps(phase, Quantity::substrate_temperature);
}

/// The fan's call for humidity, temperature and ceiling needs to know what it would bring in.
void advise_fan(const Air& air, Place at) {
  if (!air.folder.room_read) return;
  const RoomPlan& room = air.folder.room;
  std::vector<std::string> calls, missing;
  const bool humid = !phases_where(air.profile, [](const PhasePlan& p) {
                        return keeps(p, Quantity::humidity) &&
                               p.of(Quantity::humidity)->keep->form == Keep::Form::between;
                      }).empty();
  const bool warm = !phases_where(air.profile, keeps_temperature).empty();
  const bool ceiling = std::any_of(air.tubs.begin(), air.tubs.end(), [](const ReadTub* tub) {
    return tub->plan.substrate_ceiling_c.has_value();
  });
  if (humid && !(room.humidity.known() && room.temperature.known())) calls.emplace_back("humidity");
  if (warm && !room.temperature.known()) calls.emplace_back("temperature");
  if (ceiling && !room.temperature.known()) calls.emplace_back("the substrate ceiling");
  if (calls.empty()) return;
  if (!room.temperature.known()) missing.emplace_back("temperature");
  if (humid && !room.humidity.known()) missing.emplace_back("humidity");
  air.warn(at, fmt::format("the room's {} {} not known, so the fan is never called for {}; give it "
                           "as room: in tubwarden.yaml",
                           list(missing), missing.size() == 1 ? "is" : "are", list(calls)));
}

void advise_floor(const Air& air, const ActuatorPlan& fan, Place at) {
  for (const PhasePlan& phase : air.profile.phases) {
    const double litres = air.plan.net_volume.in(phase.name);
    if (!phase.fresh_air || litres <= 0 || !fan.rate) continue;
    const fit::FloorNeed need = fit::floor_need(*phase.fresh_air, *fan.rate, {litres}, fan.limits);
    if (need.share <= 1.0) continue;
    air.warn(at,
             fmt::format("in {} the fresh-air floor needs {} of this fan in every {}, more than "
                         "there is; it will run without end and not reach it",
                         phase.name, spoken(need.run), spoken(phase.fresh_air->every)));
  }
}

double temperature_of(const PhasePlan& phase) {
  for (Quantity q : {Quantity::air_temperature, Quantity::substrate_temperature}) {
    if (keeps(phase, q)) return (phase.of(q)->keep->low + phase.of(q)->keep->high) / 2;
  }
  return kUsualAirC;
}

void advise_mister(const Air& air, const ActuatorPlan& mister, Place at) {
  if (!mister.rate) return;
  double worst = 0, worst_lift = 0;
  std::string phase_of_worst;
  for (const PhasePlan& phase : air.profile.phases) {
    const double litres = air.plan.net_volume.in(phase.name);
    if (!keeps(phase, Quantity::humidity) || litres <= 0) continue;
    const Keep& keep = *phase.of(Quantity::humidity)->keep;
    if (keep.form == Keep::Form::below || keep.high <= keep.low) continue;
    const double lift =
        fit::rh_of_run(*mister.rate, mister.limits.shortest_run, {litres}, {temperature_of(phase)});
    const double share = lift / (keep.high - keep.low);
    if (share <= fit::kStepOfBand || share <= worst) continue;
    worst = share;
    worst_lift = lift;
    phase_of_worst = phase.name;
  }
  if (worst == 0) return;
  air.warn(at,
           fmt::format("one shortest run ({}) lifts this air by {} % RH, {} of the band of {}; a "
                       "quarter or less keeps it: shorten shortest_run, or take a weaker mister",
                       amount_text(seconds_of(mister.limits.shortest_run), Measure::duration),
                       trimmed(worst_lift, 1),
                       worst >= 1 ? "the whole" : trimmed(100 * worst, 0) + " %", phase_of_worst));
}

/// What runs from start point to middle although portions are asked for.
void advise_portions(const Air& air, const ActuatorPlan& mister, Place at) {
  if (air.plan.control != Control::portions) return;
  if (!mister.rate) {
    air.warn(at, fmt::format("the rate of {} is not given, so it cannot dose and runs from the "
                             "start point to the middle; give it (40 g/h), or say control: "
                             "hysteresis",
                             mister.id));
    return;
  }
  const double step = humidity_step(air.plan);
  if (step <= kCoarsestPct) return;
  air.warn(at,
           fmt::format("the humidity sensor tells steps of {} only, more than {} %, so {} "
                       "cannot dose and runs from the start point to the middle",
                       amount_text(step, Measure::humidity), trimmed(kCoarsestPct, 0), mister.id));
}

void advise_actuators(const Air& air) {
  for (std::size_t i = 0; i < air.plan.actuators.size(); ++i) {
    const ActuatorPlan& actuator = air.plan.actuators[i];
    const Place at = air.read.actuator_places[i];
    if (actuator.effect == Effect::fresh_air) {
      advise_fan(air, at);
      advise_floor(air, actuator, at);
    } else if (actuator.effect == Effect::humidify) {
      advise_mister(air, actuator, at);
      advise_portions(air, actuator, at);
    }
  }
}

/// What is asked and not measured is neither kept nor warned of: a silence the grower must know.
void advise_blind(const Air& air) {
  for (Quantity q : kAllQuantities) {
    if (senses(air.plan, q)) continue;
    const auto asked = phases_where(air.profile, [&](const PhasePlan& phase) {
      const bool shelf = air.tubs.size() == 1 && air.tubs.front()->plan.is_shelf;
      return phase.of(q).has_value() && (!shelf || phase.name == kPhaseGrain);
    });
    if (asked.empty()) continue;
    air.warn(air.read.place,
             fmt::format("no sensor of {} measures {}, so {} neither keep{} nor "
                         "warn{} of it",
                         air.plan.id, word_of(q), list(asked), asked.size() == 1 ? "s" : "",
                         asked.size() == 1 ? "s" : ""));
  }
}

/// A plan that waits for what nobody reads waits for good.
void advise_next(const Air& air) {
  for (Quantity q : kAllQuantities) {
    if (senses(air.plan, q)) continue;
    const auto waiting = phases_where(air.profile, [&](const PhasePlan& phase) {
      return phase.next_plan.when[index_of(q)].has_value();
    });
    if (waiting.empty()) continue;
    air.warn(air.read.place, fmt::format("no sensor of {} measures {}, so the plan of {} never "
                                         "goes on",
                                         air.plan.id, word_of(q), list(waiting)));
  }
}

/// A sensor +- a tells a band apart that is at least 2a wide.
void advise_accuracy(const Air& air) {
  for (std::size_t i = 0; i < air.plan.sensors.size(); ++i) {
    for (const QuantitySource& source : air.plan.sensors[i].quantities) {
      if (!source.accuracy) continue;
      const Quantity q = source.quantity;
      const auto narrow = phases_where(air.profile, [&](const PhasePlan& phase) {
        if (!keeps(phase, q) || phase.of(q)->keep->form != Keep::Form::between) return false;
        const Keep& keep = *phase.of(q)->keep;
        return fit::telling({keep.low, keep.high}, *source.accuracy) != fit::Telling::tells;
      });
      if (narrow.empty()) continue;
      air.warn(air.read.sensor_places[i],
               fmt::format("{} knows {} to +- {} only; the band of {} is narrower than that",
                           air.plan.sensors[i].id, word_of(q),
                           amount_text(*source.accuracy, measure_of(q)), list(narrow)));
    }
  }
}

void advise_ceilings(const Air& air) {
  for (const ReadTub* tub : air.tubs) {
    const auto& ceiling = tub->plan.substrate_ceiling_c;
    if (!ceiling || tub->broken) continue;
    if (!senses(air.plan, Quantity::substrate_temperature)) {
      air.folder.warning(tub->file, tub->ceiling_at,
                         fmt::format("no sensor of {} is in the substrate; the ceiling is judged "
                                     "from the air's temperature + 3 C",
                                     air.plan.id));
    }
    const auto locked = phases_where(air.profile, [&](const PhasePlan& phase) {
      return keeps(phase, Quantity::substrate_temperature) &&
             phase.of(Quantity::substrate_temperature)->keep->high > *ceiling;
    });
    if (locked.empty()) continue;
    air.folder.warning(tub->file, tub->ceiling_at,
                       fmt::format("the ceiling lies inside the band of {}, whose upper part is "
                                   "never reached",
                                   list(locked)));
  }
}

/// Where the room's own CO2 stands over what is asked, air brings no help.
void advise_co2(const Air& air) {
  if (!air.folder.room_read) return;
  const RoomSource& room = air.folder.room.co2;
  if (room.sensor) return;
  const double outside = room.fixed.value_or(kOutdoorCo2Ppm);
  const auto vain = phases_where(air.profile, [&](const PhasePlan& phase) {
    return keeps(phase, Quantity::co2) && phase.of(Quantity::co2)->keep->high <= outside;
  });
  if (vain.empty()) return;
  air.warn(air.read.place, fmt::format("{} ask{} for less CO2 than the room has ({}); fresh air "
                                       "cannot reach it",
                                       list(vain), vain.size() == 1 ? "s" : "",
                                       amount_text(outside, Measure::co2)));
}

}  // namespace

void advise(ReadFolder& folder, const FolderIndex& index) {
  for (const ReadChamber& chamber : folder.chambers) {
    if (chamber.broken) continue;
    const auto leader = index.tubs.find(chamber.plan.leader);
    if (leader == index.tubs.end() || leader->second->broken) continue;
    if (!leader->second->plan.profile) continue;
    const Air air{folder, chamber, chamber.plan, *leader->second->plan.profile,
                  index.standing.at(chamber.plan.id)};
    advise_actuators(air);
    advise_blind(air);
    advise_next(air);
    advise_accuracy(air);
    advise_ceilings(air);
    advise_co2(air);
  }
}

}  // namespace tubwarden
