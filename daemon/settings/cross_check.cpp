#include "settings/cross_check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/climate/fresh_air.hpp"

namespace tubwarden {
namespace {

const YamlNode& place(const ReadTub& tub, const std::string& key) {
  for (const auto& [name, value] : tub.tree.members) {
    if (name.text == key) return value;
  }
  return tub.tree;
}

void error(ReadFolder& folder, const std::string& file, const YamlNode& at, std::string text) {
  folder.findings.push_back({Severity::error, file, at.line, at.column, std::move(text)});
}

void warning(ReadFolder& folder, const std::string& file, const YamlNode& at, std::string text) {
  folder.findings.push_back({Severity::warning, file, at.line, at.column, std::move(text)});
}

void error(ReadFolder& folder, ReadTub& tub, const std::string& key, std::string text) {
  error(folder, tub.file, place(tub, key), std::move(text));
  tub.broken = true;
}

ReadChamber* chamber_named(ReadFolder& folder, const std::string& id) {
  for (ReadChamber& chamber : folder.chambers) {
    if (chamber.plan.id == id) return &chamber;
  }
  return nullptr;
}

void check_names(ReadFolder& folder) {
  std::map<std::string, std::string> tubs, chambers;
  for (ReadTub& tub : folder.tubs) {
    if (tub.plan.id.empty()) continue;
    const auto [known, fresh] = tubs.emplace(tub.plan.id, tub.file);
    if (fresh) continue;
    error(
        folder, tub, tub.plan.is_shelf ? "shelf" : "tub",
        fmt::format("'{}' is named in {} already; names are one each", tub.plan.id, known->second));
  }
  for (ReadChamber& chamber : folder.chambers) {
    if (chamber.plan.id.empty()) continue;
    const auto [known, fresh] = chambers.emplace(chamber.plan.id, chamber.file);
    if (fresh) continue;
    error(folder, chamber.file, chamber.place,
          fmt::format("an air called '{}' is in {} already; a tub's own air has the tub's name",
                      chamber.plan.id, known->second));
    chamber.broken = true;
  }
}

/// The profile and the phase a tub names.
void check_profile(ReadFolder& folder, ReadTub& tub) {
  const auto found = folder.profiles.find(tub.profile);
  if (found == folder.profiles.end()) {
    if (tub.profile.empty()) return;
    std::vector<std::string> known;
    for (const auto& [name, profile] : folder.profiles) known.push_back(name);
    error(
        folder, tub, "profile",
        fmt::format("no profile is called '{}'; {}", tub.profile, known_words(tub.profile, known)));
    return;
  }
  if (found->second.broken) {
    tub.broken = true;  // its own findings say why
    return;
  }
  tub.plan.profile = std::make_shared<const Profile>(found->second.profile);
  if (tub.plan.phase.empty()) return;
  std::vector<std::string> known;
  bool fits = false;
  for (const PhasePlan& phase : found->second.profile.phases) {
    if (tub.plan.is_shelf && phase.name != kPhaseGrain && phase.name != kPhaseEmpty) continue;
    known.push_back(phase.name);
    fits = fits || phase.name == tub.plan.phase;
  }
  if (std::find(known.begin(), known.end(), kPhaseEmpty) == known.end()) {
    known.emplace_back(kPhaseEmpty);
    fits = fits || tub.plan.phase == kPhaseEmpty;
  }
  if (fits) return;
  error(folder, tub, "phase",
        fmt::format("{} has no phase '{}'{}; {}", tub.profile, tub.plan.phase,
                    tub.plan.is_shelf ? " for a shelf of jars" : "",
                    known_words(tub.plan.phase, known)));
}

void check_chamber_of(ReadFolder& folder, ReadTub& tub) {
  if (tub.air || tub.plan.chamber.empty()) return;
  std::vector<std::string> known;
  for (const ReadChamber& chamber : folder.chambers) {
    if (!chamber.own_air) known.push_back(chamber.plan.id);
  }
  ReadChamber* chamber = chamber_named(folder, tub.plan.chamber);
  if (chamber && !chamber->own_air) {
    tub.broken = tub.broken || chamber->broken;
    return;
  }
  error(folder, tub, "stands_in",
        fmt::format("no chamber is called '{}'; {}", tub.plan.chamber,
                    known.empty() ? "chambers/ has none" : known_words(tub.plan.chamber, known)));
}

void check_leader(ReadFolder& folder, ReadChamber& chamber) {
  if (chamber.own_air) return;
  std::vector<std::string> standing;
  for (const ReadTub& tub : folder.tubs) {
    if (tub.plan.chamber == chamber.plan.id && !tub.air) standing.push_back(tub.plan.id);
  }
  std::string& leader = chamber.plan.leader;
  if (leader.empty() && standing.size() > 1) {
    error(folder, chamber.file, chamber.place,
          fmt::format("{} stand in one air, and it can keep one phase; name the leader: {}",
                      fmt::join(standing, ", "), standing.front()));
    chamber.broken = true;
  } else if (leader.empty()) {
    leader = standing.empty() ? "" : standing.front();
  } else if (std::find(standing.begin(), standing.end(), leader) == standing.end()) {
    error(folder, chamber.file, chamber.leader_place,
          fmt::format("leader '{}' does not stand in {}; {}", leader, chamber.plan.id,
                      standing.empty() ? "nothing does" : known_words(leader, standing)));
    chamber.broken = true;
  }
}

// --- what will not work, or not as one may think -------------------------------------------------

bool senses(const ChamberPlan& chamber, Quantity q) {
  return std::any_of(chamber.sensors.begin(), chamber.sensors.end(), [&](const SensorPlan& s) {
    return std::any_of(s.quantities.begin(), s.quantities.end(),
                       [&](const QuantitySource& source) { return source.quantity == q; });
  });
}

const ActuatorPlan* has_effect(const ChamberPlan& chamber, Effect effect) {
  for (const ActuatorPlan& a : chamber.actuators) {
    if (a.effect == effect) return &a;
  }
  return nullptr;
}

void warn_of_tub(ReadFolder& folder, const ReadTub& tub, const ChamberPlan& chamber) {
  if (tub.plan.substrate_ceiling_c && !senses(chamber, Quantity::substrate_temperature)) {
    warning(folder, tub.file, place(tub, "substrate_ceiling"),
            fmt::format("no sensor of {} is in the substrate; the ceiling is judged from the air's "
                        "temperature + 3 C",
                        chamber.id));
  }
  const bool room = folder.room.temperature.known() && folder.room.humidity.known();
  if (has_effect(chamber, Effect::fresh_air) && !room) {
    warning(
        folder, tub.file, tub.tree,
        "the room's temperature and humidity are not given (room: in tubwarden.yaml), so the fan "
        "is never called for humidity, temperature or the substrate ceiling");
  }
}

void warn_of_bands(ReadFolder& folder, const ReadTub& tub, const ChamberPlan& chamber) {
  for (const PhasePlan& phase : tub.plan.profile->phases) {
    for (const SensorPlan& sensor : chamber.sensors) {
      for (const QuantitySource& source : sensor.quantities) {
        const auto& wanted = phase.of(source.quantity);
        if (!wanted || !wanted->keep || wanted->keep->form != Keep::Form::between) continue;
        const double width = wanted->keep->high - wanted->keep->low;
        if (!source.accuracy || width >= *source.accuracy) continue;
        warning(folder, tub.file, tub.tree,
                fmt::format(
                    "in {} the {} band is {} {} wide, narrower than sensor {} is accurate (+- "
                    "{} {})",
                    phase.name, word_of(source.quantity), trimmed(width), unit_of(source.quantity),
                    sensor.id, trimmed(*source.accuracy), unit_of(source.quantity)));
      }
    }
    const ActuatorPlan* fan = has_effect(chamber, Effect::fresh_air);
    const double litres = chamber.net_volume.in(phase.name);
    if (!phase.fresh_air || !fan || !fan->rate || litres <= 0 || *fan->rate <= 0) continue;
    const Duration run = floor_run(phase.fresh_air->changes, litres, *fan->rate);
    if (run <= phase.fresh_air->every) continue;
    warning(
        folder, tub.file, tub.tree,
        fmt::format("in {} the fresh-air floor needs {} of the fan in every {}: more than there "
                    "is; it will run without end",
                    phase.name, spoken(run), spoken(phase.fresh_air->every)));
  }
}

}  // namespace

void cross_check(ReadFolder& folder) {
  check_names(folder);
  for (ReadChamber& chamber : folder.chambers) check_leader(folder, chamber);
  for (ReadTub& tub : folder.tubs) {
    check_profile(folder, tub);
    check_chamber_of(folder, tub);
  }
  for (const ReadTub& tub : folder.tubs) {
    const ReadChamber* chamber = chamber_named(folder, tub.plan.chamber);
    if (tub.broken || !chamber || chamber->broken || !tub.plan.profile) continue;
    warn_of_tub(folder, tub, chamber->plan);
    warn_of_bands(folder, tub, chamber->plan);
  }
}

}  // namespace tubwarden
