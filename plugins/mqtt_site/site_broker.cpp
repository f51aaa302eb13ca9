#include "mqtt_site/site_broker.hpp"

#include <cstdint>
#include <cstdio>

#include "sdk/wiring.hpp"
#include "shell/broker/broker_address.hpp"

namespace tubwarden {

Result<SiteBroker> site_broker(const char* site_json) {
  const Result<Wiring> site = Wiring::parse(site_json);
  if (!site) return site.error();
  const Wiring broker = site->object("broker");
  const Result<std::string> url = broker.text("url");
  if (!url) return Error{ErrorCode::bad_input, "the site names no broker"};
  const Result<BrokerAddress> address = broker_address(*url);
  if (!address) return address.error();
  SiteBroker found;
  found.site = site->text_or("site", "");
  found.server = address->server;
  found.encrypted = address->encrypted;
  found.ca_file = broker.text_if("ca_file");
  found.cert_file = broker.text_if("cert_file");
  found.key_file = broker.text_if("key_file");
  if (const auto user_file = broker.text_if("user_file")) {
    const Result<BrokerUser> user = read_user_file(*user_file);
    if (!user) return user.error();
    found.user = user->name;
    found.password = user->password;
  }
  return found;
}

std::string mqtt_client_id(const std::string& name) {
  std::uint64_t hash = 0xcbf29ce484222325ULL;  // FNV-1a, 64 bits
  for (const char c : name) {
    hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
  }
  char text[24];
  std::snprintf(text, sizeof text, "tw%016llx", static_cast<unsigned long long>(hash));
  return text;
}

}  // namespace tubwarden
