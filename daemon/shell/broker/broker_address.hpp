// Where the broker is and who we are there: the URL as Paho wants it, and the user file.
// Threading: pure, but for one file read. Failure: an Error that names what is allowed.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden {

struct BrokerAddress {
  std::string server;  ///< "tcp://host:port" or "ssl://host:port"
  bool encrypted = false;
};

/// From "mqtt://host[:port]" (1883) or "mqtts://host[:port]" (8883); an IPv6 host in brackets.
Result<BrokerAddress> broker_address(std::string_view url);

struct BrokerUser {
  std::string name, password;
};

/// Two lines: the user name, then the password (may be missing). At most 4 KiB.
Result<BrokerUser> read_user_file(const std::filesystem::path& path);

}  // namespace tubwarden
