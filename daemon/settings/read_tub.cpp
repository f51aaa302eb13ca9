#include <fmt/format.h>

#include "settings/readers.hpp"

namespace tubwarden {

ReadChamber read_chamber(const YamlNode& tree, const PluginCatalogue& plugins,
                         FileFindings& findings) {
  const Section s(tree, "chamber", findings);
  ReadChamber read;
  read.plan.id = s.text("chamber").value_or("");
  read.plan.leader = s.has("leader") ? s.text("leader").value_or("") : "";
  read.place = s.at("chamber");
  read.leader_place = s.at("leader");
  read_air(s, read.plan, plugins);
  return read;
}

ReadTub read_tub(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings) {
  const Section s(tree, "tub", findings);
  ReadTub read;
  read.tree = tree;
  TubPlan& plan = read.plan;
  plan.is_shelf = s.has("shelf");
  if (s.has("tub") == s.has("shelf") && tree.kind == YamlNode::Kind::map) {
    findings.error(tree, s.has("tub")
                             ? "a file is a tub or a shelf, not both"
                             : "'tub' is missing here: the tub's name (or 'shelf' for jars)");
  }
  plan.id = s.text(plan.is_shelf ? "shelf" : "tub").value_or("");
  plan.batch = s.text("batch").value_or("");
  plan.phase = s.text("phase").value_or("");
  read.profile = s.text("profile").value_or("");
  plan.substrate_kg = s.amount("substrate", Measure::mass);
  plan.substrate_ceiling_c = s.amount("substrate_ceiling", Measure::temperature);
  if (s.has("air") == s.has("stands_in") && tree.kind == YamlNode::Kind::map) {
    findings.error(tree, s.has("air") ? "a tub has air of its own or stands_in a chamber, not both"
                                      : "give the tub air of its own, or stands_in: CHAMBER");
  }
  if (s.has("stands_in")) plan.chamber = s.text("stands_in").value_or("");
  if (const auto air = s.section("air", "air")) {
    plan.chamber = plan.id;
    ReadChamber own;
    own.own_air = true;
    own.plan.id = plan.id;
    own.plan.leader = plan.id;
    own.place = s.key_at("air");
    own.leader_place = own.place;
    read_air(*air, own.plan, plugins);
    read.air = std::move(own);
  }
  return read;
}

}  // namespace tubwarden
