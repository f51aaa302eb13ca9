#include "sdk/protocol.hpp"

#include <sys/socket.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <limits>
#include <nlohmann/json.hpp>

namespace tubwarden::protocol {

using Json = nlohmann::json;

namespace {

struct FailureName {
  Failure what;
  const char* name;
};
constexpr std::array<FailureName, 7> kFailures = {{{Failure::load, "load"},
                                                   {Failure::open, "open"},
                                                   {Failure::option, "option"},
                                                   {Failure::apply, "apply"},
                                                   {Failure::unsafe, "unsafe"},
                                                   {Failure::hung, "hung"},
                                                   {Failure::packet, "packet"}}};

const char* name_of(Failure what) {
  for (const FailureName& row : kFailures) {
    if (row.what == what) return row.name;
  }
  ENSURE(false);
}

/// A malformed member; caught at the edge of decode, never let out.
struct Malformed {
  std::string text;
};

/// An object whose members are read with their type and range checked.
class Members {
 public:
  explicit Members(const Json& object) : object_(object) {
    if (!object.is_object()) throw Malformed{"a packet is one JSON object"};
  }
  std::uint64_t u64(const char* name) const {
    const Json& value = member(name);
    if (!value.is_number_unsigned()) throw Malformed{std::string(name) + " is not a whole number"};
    return value.get<std::uint64_t>();
  }
  std::uint32_t u32(const char* name) const {
    const std::uint64_t value = u64(name);
    if (value > std::numeric_limits<std::uint32_t>::max()) {
      throw Malformed{std::string(name) + " is out of range"};
    }
    return static_cast<std::uint32_t>(value);
  }
  /// 0 when it is missing: a list of outputs may have been written by an older daemon.
  std::uint32_t u32_or_none(const char* name) const { return has(name) ? u32(name) : 0; }
  std::uint32_t permille(const char* name) const {
    const std::uint32_t value = u32(name);
    if (value > 1000) throw Malformed{std::string(name) + " is above 1000 permille"};
    return value;
  }
  std::string text(const char* name) const {
    const Json& value = member(name);
    if (!value.is_string()) throw Malformed{std::string(name) + " is not text"};
    return value.get<std::string>();
  }
  bool yes(const char* name) const {
    const Json& value = member(name);
    if (!value.is_boolean()) throw Malformed{std::string(name) + " is not true or false"};
    return value.get<bool>();
  }
  bool has(const char* name) const { return object_.contains(name) && !object_[name].is_null(); }
  const Json& member(const char* name) const {
    const auto found = object_.find(name);
    if (found == object_.end()) throw Malformed{std::string(name) + " is missing"};
    return *found;
  }

 private:
  const Json& object_;
};

/// Text from a plugin may be anything; a dump that throws on bad UTF-8 would be a way to stop us.
std::string dump(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json open_json(const Open& m) {
  return {{"do", "open"},
          {"output", m.output},
          {"id", m.id},
          {"wiring", m.wiring_json},
          {"site", m.site_json},
          {"safe", m.safe_permille},
          {"lease_ms", m.lease_ms},
          {"falls_by_itself_after_ms", m.falls_by_itself_after_ms},
          {"period_ms", m.period_ms},
          {"shortest_run_ms", m.shortest_run_ms},
          {"more", m.more}};
}

Open open_from(const Members& m) {
  return {m.u32("output"),
          m.text("id"),
          m.text("wiring"),
          m.text("site"),
          m.permille("safe"),
          m.u32("lease_ms"),
          m.u32("falls_by_itself_after_ms"),
          m.u32_or_none("period_ms"),
          m.u32_or_none("shortest_run_ms"),
          m.has("more") && m.yes("more")};
}

struct ToHostJson {
  Json operator()(const Open& m) const { return open_json(m); }
  Json operator()(const Apply& m) const {
    return {{"do", "apply"},       {"output", m.output},     {"level", m.level_permille},
            {"run_ms", m.run_ms},  {"lease_ms", m.lease_ms}, {"sequence", m.sequence},
            {"sent_ns", m.sent_ns}};
  }
  Json operator()(const Renew& m) const {
    return {{"do", "renew"},
            {"output", m.output},
            {"lease_ms", m.lease_ms},
            {"sequence", m.sequence},
            {"sent_ns", m.sent_ns}};
  }
  Json operator()(const MakeSafe& m) const { return {{"do", "make_safe"}, {"output", m.output}}; }
  Json operator()(const Close& m) const { return {{"do", "close"}, {"output", m.output}}; }
  Json operator()(const Deliver& m) const {
    return {{"do", "deliver"},
            {"ticket", m.ticket},
            {"wiring", m.wiring_json},
            {"site", m.site_json},
            {"message", m.message_json}};
  }
};

ToHost to_host_from(const Members& m) {
  const std::string what = m.text("do");
  if (what == "open") return open_from(m);
  if (what == "apply") {
    return Apply{m.u32("output"),   m.permille("level"), m.u32("run_ms"),
                 m.u32("lease_ms"), m.u64("sequence"),   m.u64("sent_ns")};
  }
  if (what == "renew") {
    return Renew{m.u32("output"), m.u32("lease_ms"), m.u64("sequence"), m.u64("sent_ns")};
  }
  if (what == "make_safe") return MakeSafe{m.u32("output")};
  if (what == "close") return Close{m.u32("output")};
  if (what == "deliver") {
    return Deliver{m.u64("ticket"), m.text("wiring"), m.text("site"), m.text("message")};
  }
  throw Malformed{"unknown message '" + what +
                  "'; known: open, apply, renew, make_safe, close, deliver"};
}

struct ToDaemonJson {
  Json operator()(const Opened& m) const {
    return {{"do", "opened"}, {"output", m.output}, {"confirms", m.confirms}};
  }
  Json operator()(const Closed& m) const { return {{"do", "closed"}, {"output", m.output}}; }
  Json operator()(const Confirm& m) const {
    return {{"do", "confirm"}, {"output", m.output}, {"level", m.level_permille}};
  }
  Json operator()(const Reach& m) const {
    return {{"do", "reach"}, {"output", m.output}, {"yes", m.yes}, {"why", m.why}};
  }
  Json operator()(const Fell& m) const {
    return {{"do", "fell"}, {"output", m.output}, {"sequence", m.sequence}};
  }
  Json operator()(const Said& m) const {
    return {{"do", "said"}, {"level", static_cast<unsigned>(m.level)}, {"text", m.text}};
  }
  Json operator()(const Failed& m) const {
    Json json = {{"do", "failed"}, {"what", name_of(m.what)}, {"text", m.text}};
    if (m.output) json["output"] = *m.output;
    return json;
  }
  Json operator()(const Delivered& m) const {
    return {{"do", "delivered"},
            {"ticket", m.ticket},
            {"ok", m.delivered},
            {"for_good", m.for_good},
            {"why", m.why}};
  }
  Json operator()(const Held& m) const {
    Json limits = Json::array();
    for (const Limit& limit : m.limits) {
      limits.push_back({{"what", limit.what}, {"holds", limit.holds}, {"how", limit.how}});
    }
    return {{"do", "held"}, {"limits", limits}};
  }
};

ToDaemon failed_from(const Members& m) {
  const std::string what = m.text("what");
  for (const FailureName& row : kFailures) {
    if (what != row.name) continue;
    Failed failed{std::nullopt, row.what, m.text("text")};
    if (m.has("output")) failed.output = m.u32("output");
    return failed;
  }
  throw Malformed{"unknown failure '" + what + "'"};
}

Held held_from(const Members& m) {
  const Json& limits = m.member("limits");
  if (!limits.is_array()) throw Malformed{"limits is not a list"};
  Held held;
  for (const Json& each : limits) {
    const Members limit(each);
    held.limits.push_back({limit.text("what"), limit.yes("holds"), limit.text("how")});
  }
  return held;
}

ToDaemon to_daemon_from(const Members& m) {
  const std::string what = m.text("do");
  if (what == "opened") return Opened{m.u32("output"), m.yes("confirms")};
  if (what == "closed") return Closed{m.u32("output")};
  if (what == "confirm") return Confirm{m.u32("output"), m.permille("level")};
  if (what == "reach") return Reach{m.u32("output"), m.yes("yes"), m.text("why")};
  if (what == "fell") return Fell{m.u32("output"), m.u64("sequence")};
  if (what == "said") {
    const std::uint32_t level = m.u32("level");
    if (level > static_cast<std::uint32_t>(SayLevel::error)) throw Malformed{"unknown log level"};
    return Said{static_cast<SayLevel>(level), m.text("text")};
  }
  if (what == "failed") return failed_from(m);
  if (what == "delivered") {
    return Delivered{m.u64("ticket"), m.yes("ok"), m.yes("for_good"), m.text("why")};
  }
  if (what == "held") return held_from(m);
  throw Malformed{"unknown message '" + what +
                  "'; known: opened, closed, confirm, reach, fell, said, failed, delivered, held"};
}

/// Parses and reads; every way to be wrong becomes an Error here.
template <class T, class Read>
Result<T> decoded(std::string_view text, Read read) {
  const Json json = Json::parse(text, nullptr, false);
  if (json.is_discarded()) return Error{ErrorCode::bad_input, "not JSON"};
  try {
    return T(read(Members(json)));
  } catch (const Malformed& malformed) {
    return Error{ErrorCode::bad_input, malformed.text};
  }
}

}  // namespace

std::string encode(const ToHost& message) { return dump(std::visit(ToHostJson{}, message)); }
std::string encode(const ToDaemon& message) { return dump(std::visit(ToDaemonJson{}, message)); }

Result<ToHost> decode_to_host(std::string_view packet) {
  return decoded<ToHost>(packet, to_host_from);
}

Result<ToDaemon> decode_to_daemon(std::string_view packet) {
  return decoded<ToDaemon>(packet, to_daemon_from);
}

std::size_t encode_hung(char* buffer, std::size_t size, Failure what, std::uint32_t output,
                        const char* call, std::uint32_t limit_ms) noexcept {
  const int length = std::snprintf(buffer, size,
                                   R"({"do":"failed","what":"%s","output":%u,)"
                                   R"("text":"%s did not return within %u ms"})",
                                   name_of(what), output, call, limit_ms);
  return length > 0 && static_cast<std::size_t>(length) < size ? static_cast<std::size_t>(length)
                                                               : 0;
}

std::string encode(const SafeRun& spec) {
  Json outputs = Json::array();
  for (const Open& open : spec.outputs) outputs.push_back(open_json(open));
  return dump({{"plugin", spec.plugin_path}, {"outputs", outputs}});
}

Result<SafeRun> decode_safe_run(std::string_view text) {
  return decoded<SafeRun>(text, [](const Members& m) {
    SafeRun spec{m.text("plugin"), {}};
    const Json& outputs = m.member("outputs");
    if (!outputs.is_array()) throw Malformed{"outputs is not a list"};
    for (const Json& output : outputs) spec.outputs.push_back(open_from(Members(output)));
    return spec;
  });
}

std::string encode(const Description& description) {
  Json options = Json::array();
  for (const OptionRow& row : description.options) {
    options.push_back({{"name", row.name},
                       {"type", row.type},
                       {"range", row.range},
                       {"fallback", row.fallback ? Json(*row.fallback) : Json()},
                       {"help", row.help}});
  }
  Json kinds = Json::array();
  if (description.is_actuator) kinds.push_back("actuator");
  if (description.is_channel) kinds.push_back("channel");
  return dump({{"name", description.name},
               {"kinds", kinds},
               {"network", description.network},
               {"has_will", description.has_will},
               {"levels", description.levels},
               {"options", options}});
}

Result<Description> decode_description(std::string_view text) {
  return decoded<Description>(text, [](const Members& m) {
    Description result;
    result.name = m.text("name");
    result.is_actuator = false;
    const Json& kinds = m.member("kinds");
    if (!kinds.is_array()) throw Malformed{"kinds is not a list"};
    for (const Json& kind : kinds) {
      if (kind != "channel" && kind != "actuator") throw Malformed{"unknown kind " + dump(kind)};
      (kind == "channel" ? result.is_channel : result.is_actuator) = true;
    }
    result.network = m.yes("network");
    result.has_will = m.yes("has_will");
    result.levels = m.yes("levels");
    const Json& options = m.member("options");
    if (!options.is_array()) throw Malformed{"options is not a list"};
    for (const Json& option : options) {
      const Members row(option);
      result.options.push_back(
          {row.text("name"), row.text("type"), row.text("range"), {}, row.text("help")});
      if (row.has("fallback")) result.options.back().fallback = row.text("fallback");
    }
    return result;
  });
}

std::string channel_message(const std::string& key, const std::string& rank,
                            const std::string& state, const std::string& title,
                            const std::string& text) {
  return dump({{"key", key}, {"rank", rank}, {"state", state}, {"title", title}, {"text", text}});
}

bool send_packet(int socket, std::string_view packet) noexcept {
  if (!fits(packet) || packet.empty()) return false;
  for (;;) {
    const ssize_t sent = ::send(socket, packet.data(), packet.size(), MSG_DONTWAIT | MSG_NOSIGNAL);
    if (sent >= 0) return true;
    if (errno != EINTR) return false;
  }
}

Received receive_packet(int socket, std::string& packet) {
  packet.resize(kPacketMax);
  for (;;) {
    const ssize_t got = ::recv(socket, packet.data(), packet.size(), MSG_DONTWAIT);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) {
      packet.clear();
      return Received::nothing;
    }
    packet.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
    return got > 0 ? Received::packet : Received::gone;
  }
}

}  // namespace tubwarden::protocol
