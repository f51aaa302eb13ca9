// The driver of a relay behind the broker: one topic, a payload to run and one to rest.
//
// Quality of service, deliberately: "run" goes out at QoS 0, because a run that a lost connection
// would deliver later is worse than none, and because it never waits behind an acknowledgement; the
// safe payload and "rest" at QoS 1, because they must arrive. Only the safe payload is retained: a
// relay that starts up in the daemon's absence finds it.

#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "mqtt_relay/relay_link.hpp"
#include "mqtt_site/site_broker.hpp"
#include "sdk/entry.hpp"
#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

using namespace tubwarden;

constexpr std::uint32_t kRun = 1000;
/// Less than the host's patience with a call, several times a broker's answer.
constexpr int kSafeMsMax = 700;

constexpr tw_option kOptions[] = {
    {"topic", "topic", "", nullptr, "Where the relay listens."},
    {"run", "text", "", nullptr, "The payload that makes it run."},
    {"rest", "text", "", nullptr, "The payload that makes it rest."},
    {"confirm", "topic", "", "", "Where the relay says how it stands, in the same payloads."},
};

struct Relay {
  const tw_host* host = nullptr;
  std::uint32_t number = 0;
  std::string run, rest;
  std::uint32_t safe = 0;
  std::unique_ptr<relay::Link> link;

  const std::string& payload(std::uint32_t level) const { return level == kRun ? run : rest; }
};

Error bad(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

Result<std::string> plain_topic(const Wiring& wiring, const std::string& name) {
  const Result<std::string> topic = wiring.text(name);
  if (!topic) return topic;
  if (topic->empty() || topic->find_first_of("+#") != std::string::npos) {
    return bad("wiring: " + name + " '" + *topic + "' must be one topic, without + and #");
  }
  return topic;
}

relay::LinkPlan link_to(const SiteBroker& broker) {
  relay::LinkPlan plan;
  plan.server = broker.server;
  plan.encrypted = broker.encrypted;
  plan.ca_file = broker.ca_file;
  plan.cert_file = broker.cert_file;
  plan.key_file = broker.key_file;
  plan.user = broker.user;
  plan.password = broker.password;
  return plan;
}

Result<relay::LinkPlan> plan_of(const tw_output& spec, Relay& relay) {
  const Result<Wiring> wiring = Wiring::parse(spec.wiring);
  if (!wiring) return wiring.error();
  const Result<SiteBroker> broker = site_broker(spec.site);
  if (!broker) return broker.error();
  relay::LinkPlan link = link_to(*broker);
  const Result<std::string> topic = plain_topic(*wiring, "topic");
  const Result<std::string> run = wiring->text("run"), rest = wiring->text("rest");
  for (const auto* each : {&topic, &run, &rest}) {
    if (!each->ok()) return each->error();
  }
  if (*run == *rest) return bad("wiring: run and rest are the same payload '" + *run + "'");
  relay.run = *run;
  relay.rest = *rest;
  relay.safe = spec.safe_permille;
  if (!wiring->text_or("confirm", "").empty()) {
    const Result<std::string> confirm = plain_topic(*wiring, "confirm");
    if (!confirm) return confirm.error();
    if (*confirm == *topic) return bad("wiring: confirm is the topic we write ourselves");
    link.confirm_topic = *confirm;
  }
  link.topic = *topic;
  link.safe_payload = relay.payload(relay.safe);
  link.client_id = mqtt_client_id(broker->site + "\n" + *topic);
  // A third of the lease at most, so that the broker misses us (after one and a half) within the
  // lease.
  link.keep_alive_s = static_cast<int>(std::max<std::uint32_t>(spec.lease_ms / 3000, 1));
  return link;
}

void confirmed(const Relay& relay, const std::string& payload) {
  if (payload == relay.run) relay.host->confirm(relay.host->context, relay.number, kRun);
  if (payload == relay.rest) relay.host->confirm(relay.host->context, relay.number, 0);
}

std::int32_t open_output(const tw_host* host, std::uint32_t output, const tw_output* spec,
                         void** handle) {
  auto relay = std::make_unique<Relay>();
  relay->host = host;
  relay->number = output;
  Result<relay::LinkPlan> plan = plan_of(*spec, *relay);
  if (!plan) {
    host->say(host->context, TW_ERROR, plan.error().text.c_str());
    return plan.error().code == ErrorCode::unavailable ? TW_FAILED : TW_BAD_OPTION;
  }
  if (plan->confirm_topic) host->will_confirm(host->context, output);
  host->reachable(host->context, output, 0, "connecting to the broker");
  relay::Link::Handlers handlers;
  handlers.reach = [host, output](bool yes, const std::string& why) {
    host->reachable(host->context, output, yes ? 1 : 0, why.c_str());
  };
  handlers.confirmed = [self = relay.get()](const std::string& payload) {
    confirmed(*self, payload);
  };
  handlers.warn = [host](const std::string& text) {
    host->say(host->context, TW_WARNING, text.c_str());
  };
  relay->link = std::make_unique<relay::Link>(std::move(plan.value()), std::move(handlers));
  *handle = relay.release();
  return TW_OK;
}

std::int32_t unavailable(const Relay& relay) {
  relay.host->say(relay.host->context, TW_DEBUG, "unavailable: the broker is away");
  return TW_UNAVAILABLE;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t lease_ms,
                   std::uint64_t) {
  Relay& relay = *static_cast<Relay*>(handle);
  const bool is_safe = level == relay.safe;
  const bool sent = level == 0 || is_safe
                        ? relay.link->publish_surely(relay.payload(level), is_safe, 0)
                        : relay.link->publish_now(relay.payload(level), (lease_ms + 999) / 1000);
  return sent ? TW_OK : unavailable(relay);
}

std::int32_t make_safe(void* handle) {
  Relay& relay = *static_cast<Relay*>(handle);
  const bool sent = relay.link->publish_surely(relay.payload(relay.safe), true, kSafeMsMax);
  return sent ? TW_OK : unavailable(relay);
}

void close_output(void* handle) { delete static_cast<Relay*>(handle); }

constexpr tw_plugin kPlugin = actuator("mqtt_relay", TW_IS_NETWORK | TW_HAS_WILL | TW_NAMES_FILES,
                                       kOptions, open_output, apply, make_safe, close_output);

}  // namespace

extern "C" __attribute__((visibility("default"))) const tw_plugin* tubwarden_plugin(void) {
  return &kPlugin;
}
