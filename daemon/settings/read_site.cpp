#include <fmt/format.h>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

Measure measure_of_room(std::string_view key) {
  if (key == "temperature") return Measure::temperature;
  return key == "humidity" ? Measure::humidity : Measure::co2;
}

Quantity quantity_of_room(std::string_view key) {
  if (key == "temperature") return Quantity::air_temperature;
  return key == "humidity" ? Quantity::humidity : Quantity::co2;
}

RoomSource read_room_source(const Section& room, std::string_view key) {
  RoomSource source;
  if (!room.has(key)) return source;
  if (room.at(key).kind == YamlNode::Kind::map) {
    const Section s(room.at(key), "room_sensor", room.findings());
    SensorPlan plan;
    plan.id = "room_" + std::string(key);
    plan.topic = s.text("topic").value_or("");
    plan.stale_after = s.duration("stale_after").value_or(minutes(10));
    QuantitySource q;
    q.quantity = quantity_of_room(key);
    q.at = s.text("at").value_or("");
    const QuantitySource usual = read_quantity(s, key);
    q.unit = usual.unit;
    q.range_low = usual.range_low;
    q.range_high = usual.range_high;
    plan.quantities = {q};
    source.sensor = plan;
    return source;
  }
  source.fixed = room.amount(key, measure_of_room(key));
  return source;
}

RoomPlan read_room(const Section& site) {
  RoomPlan plan;
  const auto room = site.section("room", "room");
  if (!room) return plan;
  plan.temperature = read_room_source(*room, "temperature");
  plan.humidity = read_room_source(*room, "humidity");
  plan.co2 = read_room_source(*room, "co2");
  return plan;
}

BrokerSettings read_broker(const Section& broker) {
  BrokerSettings b;
  b.url = broker.text("url").value_or("");
  if (!b.url.empty() && !b.url.starts_with("mqtt://") && !b.url.starts_with("mqtts://")) {
    broker.findings().error(broker.at("url"),
                            fmt::format("'{}' is no broker; allowed: mqtt://HOST[:PORT] or "
                                        "mqtts://HOST[:PORT]",
                                        b.url));
  }
  b.user_file = broker.text("user_file");
  b.ca_file = broker.text("ca_file");
  b.cert_file = broker.text("cert_file");
  b.key_file = broker.text("key_file");
  if (b.cert_file.has_value() != b.key_file.has_value()) {
    broker.findings().error(broker.node(),
                            "cert_file and key_file belong together; give both or none");
  }
  return b;
}

ChannelPlan read_channel(const YamlNode& node, const PluginCatalogue& plugins,
                         FileFindings& findings) {
  const Section s(node, "channel", findings);
  ChannelPlan plan;
  plan.id = s.text("id").value_or("");
  plan.plugin = s.text("plugin").value_or("");
  plan.wiring_json = read_wiring(s, plan.plugin, true, plugins);
  for (const YamlNode* item : s.list("ranks")) {
    const auto rank = rank_named(item->text);
    if (rank) {
      plan.ranks.push_back(*rank);
    } else {
      findings.error(*item, fmt::format("'{}' is no rank; {}", item->text,
                                        known_words(item->text, {"now", "today", "noted"})));
    }
  }
  return plan;
}

}  // namespace

std::optional<ReadSite> read_site(const YamlNode& tree, const PluginCatalogue& plugins,
                                  FileFindings& findings) {
  const Section s(tree, "site", findings);
  ReadSite read;
  read.site.site = s.text("site").value_or("");
  if (const auto broker = s.section("broker", "broker")) read.site.broker = read_broker(*broker);
  if (const auto record = s.section("record", "record")) {
    read.site.record_folder = record->text("folder").value_or("");
  }
  if (const auto control = s.section("control", "control")) {
    read.site.control_socket = control->text("socket").value_or("");
  }
  read.room = read_room(s);
  for (const YamlNode* item : s.list("channels")) {
    ChannelPlan channel = read_channel(*item, plugins, findings);
    for (const ChannelPlan& other : read.site.channels) {
      if (other.id == channel.id) {
        findings.error(*item, fmt::format("channel '{}' stands here a second time", channel.id));
      }
    }
    read.site.channels.push_back(std::move(channel));
  }
  if (findings.errors() > 0) return std::nullopt;
  return read;
}

}  // namespace tubwarden
