#include "settings/cross_check.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace tubwarden {
namespace {

std::vector<std::string> names_of(const std::vector<ReadTub*>& tubs) {
  std::vector<std::string> names;
  for (const ReadTub* tub : tubs) names.push_back(tub->plan.id);
  return names;
}

void error(ReadFolder& folder, ReadTub& tub, Place at, std::string text) {
  folder.error(tub.file, at, std::move(text));
  tub.broken = true;
}

void error(ReadFolder& folder, ReadChamber& chamber, Place at, std::string text) {
  folder.error(chamber.file, at, std::move(text));
  chamber.broken = true;
}

/// Two files of one name: neither is taken, for only the grower knows which is meant.
void check_names(ReadFolder& folder, FolderIndex& index) {
  for (ReadTub& tub : folder.tubs) {
    const auto [known, fresh] = index.tubs.emplace(tub.plan.id, &tub);
    if (fresh) continue;
    known->second->broken = true;
    error(folder, tub, tub.named,
          fmt::format("'{}' is the name in {} already; each tub and shelf has a name of its own",
                      tub.plan.id, known->second->file));
  }
  for (ReadChamber& chamber : folder.chambers) {
    const auto [known, fresh] = index.chambers.emplace(chamber.plan.id, &chamber);
    if (fresh) continue;
    if (chamber.own_air && known->second->own_air) continue;  // two tubs of one name, said above
    known->second->broken = true;
    error(folder, chamber, chamber.place,
          fmt::format("an air called '{}' is in {} already; a tub's own air has the tub's name",
                      chamber.plan.id, known->second->file));
  }
}

/// The phases a tub may name: its profile's, for a shelf grain and empty; empty always.
std::vector<std::string> phases_for(const ReadTub& tub, const Profile& profile) {
  std::vector<std::string> phases;
  for (const PhasePlan& phase : profile.phases) {
    const bool fits = !tub.plan.is_shelf || phase.name == kPhaseGrain || phase.name == kPhaseEmpty;
    if (fits) phases.push_back(phase.name);
  }
  if (std::find(phases.begin(), phases.end(), kPhaseEmpty) == phases.end()) {
    phases.emplace_back(kPhaseEmpty);
  }
  return phases;
}

void check_profile(ReadFolder& folder, ReadTub& tub) {
  if (tub.profile.empty()) return;
  const auto found = folder.profiles.find(tub.profile);
  if (found == folder.profiles.end()) {
    tub.broken = true;
    if (!folder.all_profiles_named) return;  // it may be the one that could not be read
    std::vector<std::string> known;
    for (const auto& [name, profile] : folder.profiles) known.push_back(name);
    error(folder, tub, tub.profile_at,
          fmt::format("no profile is called '{}'; {}", tub.profile,
                      known.empty() ? "profiles/ has none" : known_words(tub.profile, known)));
    return;
  }
  if (found->second.broken) {
    tub.broken = true;  // its own findings say why
    return;
  }
  const auto known = phases_for(tub, found->second.profile);
  if (tub.plan.phase.empty()) return;
  if (std::find(known.begin(), known.end(), tub.plan.phase) != known.end()) return;
  error(folder, tub, tub.phase_at,
        tub.plan.is_shelf ? fmt::format("a shelf of jars has no phase '{}'; {}", tub.plan.phase,
                                        known_words(tub.plan.phase, known))
                          : fmt::format("{} has no phase '{}'; {}", tub.profile, tub.plan.phase,
                                        known_words(tub.plan.phase, known)));
}

/// One copy of a profile for all its tubs.
void hand_out_profiles(ReadFolder& folder) {
  std::unordered_map<std::string, std::shared_ptr<const Profile>> shared;
  for (ReadTub& tub : folder.tubs) {
    const auto found = folder.profiles.find(tub.profile);
    if (found == folder.profiles.end() || found->second.broken) continue;
    auto& profile = shared[tub.profile];
    if (!profile) profile = std::make_shared<const Profile>(found->second.profile);
    tub.plan.profile = profile;
  }
}

void check_stands_in(ReadFolder& folder, const FolderIndex& index, ReadTub& tub) {
  if (tub.air || tub.plan.chamber.empty()) return;
  const auto found = index.chambers.find(tub.plan.chamber);
  if (found != index.chambers.end() && !found->second->own_air) return;
  tub.broken = true;
  if (!folder.all_chambers_named) return;  // it may be the one that could not be read
  std::vector<std::string> known;
  for (const ReadChamber& chamber : folder.chambers) {
    if (!chamber.own_air) known.push_back(chamber.plan.id);
  }
  const bool tubs_own = found != index.chambers.end();
  error(folder, tub, tub.stands_in_at,
        fmt::format("{}; {}",
                    tubs_own ? fmt::format("'{}' is a tub with air of its own, no chamber to stand "
                                           "in",
                                           tub.plan.chamber)
                             : fmt::format("no chamber is called '{}'", tub.plan.chamber),
                    known.empty() ? "chambers/ has none" : known_words(tub.plan.chamber, known)));
}

void check_leader(ReadFolder& folder, const FolderIndex& index, ReadChamber& chamber) {
  if (chamber.own_air) return;
  const auto found = index.standing.find(chamber.plan.id);
  const std::vector<std::string> standing =
      found == index.standing.end() ? std::vector<std::string>{} : names_of(found->second);
  std::string& leader = chamber.plan.leader;
  if (leader.empty()) {
    if (standing.size() > 1) {
      error(folder, chamber, chamber.place,
            "several stand in one air, which keeps one phase; name the leader; " +
                known_words("", standing));
    } else if (!standing.empty()) {
      leader = standing.front();
    }
    return;
  }
  if (std::find(standing.begin(), standing.end(), leader) != standing.end()) return;
  const auto tub = index.tubs.find(leader);
  const bool unread = tub == index.tubs.end() ? !folder.all_tubs_named : tub->second->broken;
  if (unread) return;  // its own findings come first
  if (tub != index.tubs.end() && standing.size() <= 1) {
    // By the record it may stand there, or is to be moved there.
    return folder.warning(
        chamber.file, chamber.leader_place,
        fmt::format("leader '{0}' does not stand in {1} by its file; it leads once it is there: "
                    "tubwarden move {0} {1}",
                    leader, chamber.plan.id));
  }
  error(folder, chamber, chamber.leader_place,
        fmt::format("leader '{}' does not stand in {}; {}", leader, chamber.plan.id,
                    standing.empty() ? "nothing does" : known_words(leader, standing)));
}

/// The phases that net_volume names are the leader's.
void check_volume_phases(ReadFolder& folder, const FolderIndex& index, ReadChamber& chamber) {
  const auto leader = index.tubs.find(chamber.plan.leader);
  if (leader == index.tubs.end() || !leader->second->plan.profile) return;
  const auto known = phases_for(*leader->second, *leader->second->plan.profile);
  // A stage of a flush has the air of the phase that its loop begins with.
  std::map<std::string, double>& litres = chamber.plan.net_volume.litres_in_phase;
  for (const PhasePlan& phase : leader->second->plan.profile->phases) {
    const auto head = litres.find(phase.stage_of);
    if (head != litres.end()) litres.try_emplace(phase.name, head->second);
  }
  for (const auto& [phase, at] : chamber.volume_phases) {
    if (std::find(known.begin(), known.end(), phase) != known.end()) continue;
    error(folder, chamber, at,
          fmt::format("{} has no phase {}; {}", leader->second->profile, in_quotes(phase),
                      known_words(phase, known)));
  }
}

/// A heater that goes on without its sensor: something else must tell when it is too much.
void check_blind_heat(ReadFolder& folder, const FolderIndex& index, ReadChamber& chamber) {
  const auto warm = std::count_if(
      chamber.plan.sensors.begin(), chamber.plan.sensors.end(), [](const SensorPlan& sensor) {
        return std::any_of(sensor.quantities.begin(), sensor.quantities.end(), [](const auto& q) {
          return q.quantity == Quantity::air_temperature ||
                 q.quantity == Quantity::substrate_temperature;
        });
      });
  const auto found = index.standing.find(chamber.plan.id);
  const bool ceiling =
      found != index.standing.end() &&
      std::any_of(found->second.begin(), found->second.end(),
                  [](const ReadTub* t) { return t->plan.substrate_ceiling_c.has_value(); });
  for (std::size_t i = 0; i < chamber.plan.actuators.size(); ++i) {
    const ActuatorPlan& a = chamber.plan.actuators[i];
    if (a.effect != Effect::heat || a.blind != BlindRule::duty || a.cut_out) continue;
    if (ceiling && warm >= 2) continue;
    error(
        folder, chamber, chamber.actuator_places[i],
        fmt::format("'blind: duty' is refused for the heater {}: without its sensor nothing would "
                    "tell when it is too warm. Allowed: blind: safe, an independent thermal "
                    "cut-out declared as cut_out, or a tub's substrate_ceiling with a second "
                    "sensor of a temperature",
                    a.id));
  }
}

/// A relay obeys one: two actuators on one topic would switch against each other.
void check_claims(ReadFolder& folder) {
  std::unordered_map<std::string, std::string> claimed;
  for (ReadChamber& chamber : folder.chambers) {
    for (const Claim& claim : chamber.claims) {
      const std::string who = chamber.plan.id + "/" + claim.actuator;
      const auto [known, fresh] = claimed.emplace(claim.topic, who);
      if (fresh) continue;
      error(folder, chamber, claim.at,
            fmt::format("{} is switched by this topic already; each output has its own",
                        known->second));
    }
  }
}

}  // namespace

void ReadFolder::error(const std::string& file, Place at, std::string text) {
  findings.push_back({Severity::error, file, at.line, at.column, std::move(text)});
}

void ReadFolder::warning(const std::string& file, Place at, std::string text) {
  findings.push_back({Severity::warning, file, at.line, at.column, std::move(text)});
}

FolderIndex cross_check(ReadFolder& folder) {
  FolderIndex index;
  check_names(folder, index);
  for (ReadTub& tub : folder.tubs) index.standing[tub.plan.chamber].push_back(&tub);
  hand_out_profiles(folder);
  for (ReadTub& tub : folder.tubs) {
    check_profile(folder, tub);
    check_stands_in(folder, index, tub);
  }
  for (ReadChamber& chamber : folder.chambers) {
    check_leader(folder, index, chamber);
    check_volume_phases(folder, index, chamber);
    check_blind_heat(folder, index, chamber);
  }
  check_claims(folder);
  return index;
}

}  // namespace tubwarden
