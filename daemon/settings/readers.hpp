// Each kind of file into its plan. For the files of this room only.
// Threading: pure. Failure: findings; what comes back after an error is not used.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "settings/section.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

/// A plan with the places that later checks name.
struct ReadProfile {
  Profile profile;
  std::string file;
  bool broken = false;
};

struct ReadChamber {
  ChamberPlan plan;
  std::string file;
  YamlNode place;  ///< of its name, for findings about the whole
  YamlNode leader_place;
  bool own_air = false;  ///< a tub's own
  bool broken = false;
};

struct ReadTub {
  TubPlan plan;
  std::string file;
  std::string profile;
  YamlNode tree;  ///< the whole file, for the places of later findings
  std::optional<ReadChamber> air;
  bool broken = false;
};

struct ReadSite {
  SiteSettings site;
  RoomPlan room;
};

std::optional<ReadSite> read_site(const YamlNode& tree, const PluginCatalogue& plugins,
                                  FileFindings& findings);
Profile read_profile(const YamlNode& tree, FileFindings& findings);
ReadChamber read_chamber(const YamlNode& tree, const PluginCatalogue& plugins,
                         FileFindings& findings);
ReadTub read_tub(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings);

/// net_volume, sensors and actuators: the same for a chamber and a tub's own air.
void read_air(const Section& air, ChamberPlan& plan, const PluginCatalogue& plugins);
/// One quantity of a sensor, by the key it stands under.
QuantitySource read_quantity(const Section& section, std::string_view key);
/// A plugin's wiring as JSON text, checked against its option rows.
std::string read_wiring(const Section& owner, const std::string& plugin, bool is_channel,
                        const PluginCatalogue& plugins);

Measure measure_of(Quantity q);

}  // namespace tubwarden
