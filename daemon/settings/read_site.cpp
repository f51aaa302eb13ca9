#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "base/text.hpp"
#include "settings/readers.hpp"

namespace tubwarden {
namespace {

RoomSource read_room_source(const Section& room, std::string_view key, Quantity quantity) {
  RoomSource source;
  if (!room.has(key)) return source;
  if (room.at(key).kind != YamlNode::Kind::map) {
    source.fixed = room.amount(key);
    return source;
  }
  const auto s = room.section(key);
  SensorPlan plan;
  plan.id = "room_" + std::string(key);
  plan.topic = s->text("topic").value_or("");
  plan.stale_after = s->duration("stale_after").value_or(minutes(10));
  QuantitySource q = read_unit(*s, key, quantity);
  q.at = s->text("at").value_or("");
  plan.quantities = {q};
  source.sensor = plan;
  return source;
}

BrokerSettings read_broker(const Section& broker) {
  BrokerSettings b;
  b.url = broker.text("url").value_or("");
  if (!b.url.empty()) {
    if (const auto wrong = wrong_url(b.url)) broker.findings().error(broker.at("url"), *wrong);
  }
  b.user_file = broker.text("user_file");
  b.ca_file = broker.text("ca_file");
  b.cert_file = broker.text("cert_file");
  b.key_file = broker.text("key_file");
  if (broker.has("cert_file") != broker.has("key_file")) {
    broker.findings().error(broker.key_at(broker.has("cert_file") ? "cert_file" : "key_file"),
                            "cert_file and key_file belong together; give both or none");
  }
  const bool secret = b.ca_file || b.cert_file;
  if (secret && b.url.starts_with("mqtt://")) {
    broker.findings().error(broker.at("url"),
                            "certificates are for TLS; write mqtts://, or leave them out");
  }
  return b;
}

void read_record(const Section& record, SiteSettings& site) {
  site.record_folder = record.text("folder").value_or("");
  site.keep_readings = record.duration("keep_readings").value_or(site.keep_readings);
  site.keep_means = record.duration("keep_means").value_or(site.keep_means);
  site.keep_decisions = record.duration("keep_decisions").value_or(site.keep_decisions);
  if (site.keep_means >= site.keep_readings) return;
  record.findings().error(
      record.key_at(record.has("keep_means") ? "keep_means" : "keep_readings"),
      fmt::format("means are kept {}, and the readings they are made of {}; allowed: keep_means of "
                  "at least keep_readings",
                  spoken(site.keep_means), spoken(site.keep_readings)));
}

std::vector<AlertRank> read_ranks(const Section& s, std::string_view section, std::string_view key,
                                  FileFindings& findings) {
  std::vector<AlertRank> ranks;
  for (const YamlNode* item : s.list(key)) {
    if (const auto rank = rank_named(item->text)) {
      ranks.push_back(*rank);
    } else {
      findings.error(*item,
                     fmt::format("{} is no rank; {}", in_quotes(item->text),
                                 known_words(item->text, words_in(row_of(section, key)->words))));
    }
  }
  return ranks;
}

AlertSettings read_alerts(const Section& s, FileFindings& findings) {
  AlertSettings alerts;
  if (s.has("again_every")) {
    const bool never = s.at("again_every").text == "never";
    alerts.again_every = never ? std::nullopt : s.duration("again_every");
  }
  const auto quiet = s.section("quiet_hours");
  if (!quiet) return alerts;
  const auto from = quiet->minute_of_day("from"), to = quiet->minute_of_day("to");
  if (!from || !to) return alerts;
  alerts.quiet_from_minute = *from;
  alerts.quiet_to_minute = *to;
  if (*from == *to) {
    findings.error(quiet->at("to"),
                   "quiet hours that begin and end at once are none; allowed: two "
                   "times of day, like from: 22:00, to: 07:00");
  }
  alerts.held = {AlertRank::today, AlertRank::noted};
  if (quiet->has("hold")) alerts.held = read_ranks(*quiet, "quiet_hours", "hold", findings);
  return alerts;
}

ChannelPlan read_channel(const YamlNode& node, const PluginCatalogue& plugins,
                         FileFindings& findings) {
  const Section s(node, "channel", findings);
  ChannelPlan plan;
  plan.id = s.text("id").value_or("");
  plan.plugin = s.text("plugin").value_or("");
  plan.wiring_json = read_wiring(s, "plugin", true, plugins).json;
  plan.ranks = read_ranks(s, "channel", "ranks", findings);
  plan.after_unseen = s.duration("after_unseen");
  if (const auto heartbeat = s.section("heartbeat")) plan.heartbeat = heartbeat->duration("every");
  if (plan.heartbeat && plan.after_unseen) {
    findings.error(s.key_at("after_unseen"),
                   "a heartbeat comes regularly; give after_unseen to another channel");
  }
  return plan;
}

}  // namespace

std::optional<std::string> wrong_url(const std::string& url) {
  constexpr std::string_view kAllowed = "allowed: mqtt://HOST[:PORT] or mqtts://HOST[:PORT]";
  std::string_view rest = url;
  if (rest.starts_with("mqtts://")) {
    rest.remove_prefix(8);
  } else if (rest.starts_with("mqtt://")) {
    rest.remove_prefix(7);
  } else {
    return fmt::format("{} is no broker; {}", in_quotes(url), kAllowed);
  }
  if (rest.ends_with('/')) rest.remove_suffix(1);
  if (rest.find('@') != std::string_view::npos) {
    return fmt::format("a name and password do not stand in the url; allowed: user_file: /PATH");
  }
  const std::size_t bracket = rest.starts_with('[') ? rest.find(']') : 0;
  if (bracket == std::string_view::npos)
    return fmt::format("{} has no closing bracket; {}", in_quotes(url), kAllowed);
  const std::size_t colon = rest.find(':', bracket);
  const std::string_view host = rest.substr(0, colon);
  if (host.empty() || host.find_first_of("/?# \t") != std::string_view::npos) {
    return fmt::format("{} names no host; {}", in_quotes(url), kAllowed);
  }
  if (colon == std::string_view::npos) return std::nullopt;
  const auto port = plain_number(rest.substr(colon + 1));
  const bool fits = port && *port >= 1 && *port <= 65535 && *port == static_cast<int>(*port);
  return fits ? std::nullopt
              : std::optional(
                    fmt::format("{} has no port from 1 to 65535; {}", in_quotes(url), kAllowed));
}

ReadSite read_site(const YamlNode& tree, const PluginCatalogue& plugins, FileFindings& findings) {
  const Section s(tree, "site", findings);
  ReadSite read;
  read.site.site = s.text("site").value_or("");
  if (const auto broker = s.section("broker")) read.site.broker = read_broker(*broker);
  if (const auto record = s.section("record")) read_record(*record, read.site);
  if (const auto control = s.section("control")) {
    read.site.control_socket = control->text("socket").value_or("");
  }
  if (const auto sheet = s.section("sheet")) read.site.sheet = read_sheet(*sheet);
  if (const auto hosts = s.section("hosts")) {
    read.site.host_memory_mib =
        static_cast<int>(hosts->number("memory_mib").value_or(read.site.host_memory_mib));
    read.site.host_cpu_percent =
        static_cast<int>(hosts->number("cpu_percent").value_or(read.site.host_cpu_percent));
  }
  if (const auto room = s.section("room")) {
    read.room.temperature = read_room_source(*room, "temperature", Quantity::air_temperature);
    read.room.humidity = read_room_source(*room, "humidity", Quantity::humidity);
    read.room.co2 = read_room_source(*room, "co2", Quantity::co2);
  }
  read.site.morning_minute = s.minute_of_day("morning").value_or(read.site.morning_minute);
  if (const auto alerts = s.section("alerts")) read.site.alerts = read_alerts(*alerts, findings);
  std::set<std::string> ids;
  for (const YamlNode* item : s.list("channels")) {
    read.site.channels.push_back(read_channel(*item, plugins, findings));
    const std::string& id = read.site.channels.back().id;
    if (id.empty() || ids.insert(id).second) continue;
    findings.error(*item, fmt::format("channel '{}' stands here a second time; each has a name of "
                                      "its own",
                                      id));
  }
  return read;
}

}  // namespace tubwarden
