// Each kind of file into its plan. For the files of this room only.
// Threading: pure. Failure: findings; what comes back after an error is not used.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "settings/section.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

struct ReadProfile {
  Profile profile;
  std::string file;
  bool broken = false;
};

/// A network topic that an actuator switches by: two must not share one.
struct Claim {
  std::string topic;
  std::string actuator;
  Place at;
};

/// A chamber's plan, with the places that later checks name.
struct ReadChamber {
  ChamberPlan plan;
  std::string file;
  Place place;  ///< of its name, for findings about the whole
  Place leader_place;
  std::vector<Place> sensor_places;    ///< by index in the plan
  std::vector<Place> actuator_places;  ///< likewise
  std::vector<std::pair<std::string, Place>> volume_phases;
  std::vector<Claim> claims;
  bool own_air = false;  ///< a tub's own
  bool broken = false;
};

struct ReadTub {
  TubPlan plan;
  std::string file;
  std::string profile;
  Place named, profile_at, phase_at, stands_in_at, ceiling_at;
  std::optional<ReadChamber> air;
  bool broken = false;
};

struct ReadSite {
  SiteSettings site;
  RoomPlan room;
};

/// What is wrong with a broker's URL, and what is allowed; nothing when it is right.
std::optional<std::string> wrong_url(const std::string& url);

SheetSettings read_sheet(const Section& section);
ReadSite read_site(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings);
Profile read_profile(const YamlNode& tree, FileFindings& findings);
/// `next: casing`, or the section that says when.
void read_next(const Section& phase, PhasePlan& plan);
/// `next` and `stage_of` of a phase, once all phases of its profile are read.
void check_next(const Profile& profile, const PhasePlan& phase, const YamlNode& item,
                FileFindings& findings);
void check_loop(const Profile& profile, const PhasePlan& phase, const YamlNode& item,
                FileFindings& findings);
ReadChamber read_chamber(const YamlNode& tree, const PluginCatalogue& plugins,
                         FileFindings& findings);
ReadTub read_tub(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings);

SensorPlan read_sensor(const YamlNode& node, FileFindings& findings);
/// `out.claims` grows by the topic it switches, when it has one.
ActuatorPlan read_actuator(const YamlNode& node, const PluginCatalogue& plugins, ReadChamber& out,
                           FileFindings& findings);
/// The unit, and the range a sensor of the trade can say at all, of the quantity under `key`.
QuantitySource read_unit(const Section& section, std::string_view key, Quantity quantity);

struct ReadWiring {
  std::string json = "{}";     ///< one JSON object, values as text, durations in whole units
  std::optional<Claim> claim;  ///< the network topic it switches by
  const PluginDescription* plugin = nullptr;  ///< nothing when it is not known
};
/// A plugin's wiring, checked against its option rows. `who` says driver or plugin: the key that
/// names it.
ReadWiring read_wiring(const Section& owner, std::string_view who, bool is_channel,
                       const PluginCatalogue& plugins);

Measure measure_of(Quantity q);

}  // namespace tubwarden
