// The site's broker as a plugin that speaks MQTT is told of it, with the user file read.
// Threading: reads one small file. Failure: an Error; `unavailable` when the file is not there now.
#pragma once

#include <optional>
#include <string>

#include "base/result.hpp"

namespace tubwarden {

struct SiteBroker {
  std::string site;
  std::string server;  ///< "tcp://host:port" or "ssl://host:port", as Paho takes it
  bool encrypted = false;
  std::optional<std::string> user, password;
  std::optional<std::string> ca_file, cert_file, key_file;
};

Result<SiteBroker> site_broker(const char* site_json);

/// A client identifier of fixed length for any `name`, short enough for every MQTT 3.1.1 broker.
std::string mqtt_client_id(const std::string& name);

}  // namespace tubwarden
