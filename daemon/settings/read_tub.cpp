#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

constexpr std::size_t kSensorsMax = 64;
constexpr std::size_t kActuatorsMax = 64;

void read_volume(const Section& air, ReadChamber& out) {
  if (!air.has("net_volume")) return;
  const YamlNode& volume = air.at("net_volume");
  NetVolume& net = out.plan.net_volume;
  if (volume.kind != YamlNode::Kind::map) {
    net.litres = air.amount("net_volume").value_or(0.0);
    return;
  }
  const Bounds bounds = row_of("chamber", "net_volume")->limits;
  for (const auto& [phase, amount] : volume.members) {
    const auto litres = parse_amount(amount.text, Measure::volume);
    if (!litres.ok() || !bounds.hold(*litres)) {
      air.findings().error(
          amount, litres.ok() ? fmt::format("{} is out of range for a volume; allowed: {} to {}",
                                            in_quotes(amount.text),
                                            amount_text(bounds.low, Measure::volume),
                                            amount_text(bounds.high, Measure::volume))
                              : litres.error().text);
      continue;
    }
    net.litres_in_phase[phase.text] = *litres;
    net.litres = std::max(net.litres, *litres);
    out.volume_phases.emplace_back(phase.text, phase);
  }
}

/// Each item once by its `id`; the place of each.
template <class Read>
void read_parts(const Section& air, std::string_view key, std::size_t most, Read read) {
  std::set<std::string> ids;
  const auto items = air.list(key);
  if (items.size() > most) {
    air.findings().error(*items[most],
                         fmt::format("more than {} {} in one air; allowed: that many", most, key));
    return;
  }
  for (const YamlNode* item : items) {
    Place at = *item;
    for (const auto& [name, value] : item->members) {
      if (name.text == "id") at = value;
    }
    const std::string id = read(*item, at);
    if (!id.empty() && !ids.insert(id).second) {
      air.findings().error(at, fmt::format("'{}' stands here a second time; each of the {} has a "
                                           "name of its own",
                                           id, key));
    }
  }
}

/// net_volume, sensors and actuators: the same for a chamber and a tub's own air.
void read_air(const Section& air, ReadChamber& out, const PluginCatalogue& plugins) {
  read_volume(air, out);
  if (air.text("control").value_or("") == name_of(Control::hysteresis)) {
    out.plan.control = Control::hysteresis;
  }
  out.plan.leak_per_h = air.number("leak");
  read_parts(air, "sensors", kSensorsMax, [&](const YamlNode& item, Place at) {
    out.plan.sensors.push_back(read_sensor(item, air.findings()));
    out.sensor_places.push_back(at);
    return out.plan.sensors.back().id;
  });
  read_parts(air, "actuators", kActuatorsMax, [&](const YamlNode& item, Place at) {
    out.plan.actuators.push_back(read_actuator(item, plugins, out, air.findings()));
    out.actuator_places.push_back(at);
    return out.plan.actuators.back().id;
  });
}

}  // namespace

ReadChamber read_chamber(const YamlNode& tree, const PluginCatalogue& plugins,
                         FileFindings& findings) {
  const Section s(tree, "chamber", findings);
  ReadChamber read;
  read.plan.id = s.text("chamber").value_or("");
  read.plan.leader = s.text("leader").value_or("");
  read.plan.leader_named = !read.plan.leader.empty();
  read.place = s.at("chamber");
  read.leader_place = s.at("leader");
  read_air(s, read, plugins);
  return read;
}

ReadTub read_tub(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings) {
  const Section s(tree, "tub", findings);
  ReadTub read;
  TubPlan& plan = read.plan;
  plan.is_shelf = s.has("shelf");
  const char* name = plan.is_shelf ? "shelf" : "tub";
  const bool map = tree.kind == YamlNode::Kind::map;
  if (map && s.has("tub") == s.has("shelf")) {
    findings.error(s.key_at("shelf"),
                   s.has("tub") ? "a file is a tub or a shelf, not both; leave one out"
                                : "'tub' is missing here: the tub's name, or 'shelf' for jars");
  }
  plan.id = s.text(name).value_or("");
  plan.batch = s.text("batch").value_or("");
  plan.phase = s.text("phase").value_or("");
  read.profile = s.text("profile").value_or("");
  plan.substrate_kg = s.amount("substrate");
  plan.substrate_ceiling_c = s.amount("substrate_ceiling");
  read.named = s.at(name);
  read.profile_at = s.at("profile");
  read.phase_at = s.at("phase");
  read.stands_in_at = s.at("stands_in");
  read.ceiling_at = s.at("substrate_ceiling");
  if (map && s.has("air") == s.has("stands_in")) {
    findings.error(s.key_at("stands_in"),
                   s.has("air") ? "a tub has air of its own or stands_in a chamber, not both"
                                : "the tub has no air; give it air: of its own, or stands_in: "
                                  "CHAMBER");
  }
  plan.chamber = s.text("stands_in").value_or("");
  if (const auto air = s.section("air")) {
    plan.chamber = plan.id;
    ReadChamber own;
    own.own_air = true;
    own.plan.id = plan.id;
    own.plan.leader = plan.id;
    own.plan.leader_named = true;
    own.place = s.key_at("air");
    own.leader_place = own.place;
    read_air(*air, own, plugins);
    read.air = std::move(own);
  }
  return read;
}

}  // namespace tubwarden
