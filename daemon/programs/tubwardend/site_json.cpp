#include "programs/tubwardend/site_json.hpp"

#include <nlohmann/json.hpp>

namespace tubwarden {

std::string site_json(const SiteSettings& site) {
  const BrokerSettings& broker = site.broker;
  nlohmann::ordered_json b = {{"url", broker.url}};
  const auto add = [&](const char* name, const std::optional<std::string>& file) {
    if (file) b[name] = *file;
  };
  add("user_file", broker.user_file);
  add("ca_file", broker.ca_file);
  add("cert_file", broker.cert_file);
  add("key_file", broker.key_file);
  return nlohmann::ordered_json{{"site", site.site}, {"broker", b}}.dump();
}

}  // namespace tubwarden
