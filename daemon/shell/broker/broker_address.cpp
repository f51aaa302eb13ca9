#include "shell/broker/broker_address.hpp"

#include <fmt/core.h>

#include <charconv>
#include <cstdint>
#include <fstream>

namespace tubwarden {

namespace {

constexpr std::string_view kAllowed = "allowed: mqtt://host[:port] or mqtts://host[:port]";
constexpr std::size_t kUserFileBytesMax = 4096;

Error bad_url(std::string_view url, std::string_view what) {
  return {ErrorCode::bad_input, fmt::format("broker url '{}': {}; {}", url, what, kAllowed)};
}

bool is_port(std::string_view text) {
  std::uint16_t port = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), port);
  return error == std::errc() && end == text.data() + text.size() && port > 0;
}

bool is_host(std::string_view host) {
  return !host.empty() && host.find_first_of("/@?# \t") == std::string_view::npos;
}

}  // namespace

Result<BrokerAddress> broker_address(std::string_view url) {
  BrokerAddress address;
  std::string_view rest = url;
  if (rest.starts_with("mqtts://")) {
    address.encrypted = true;
    rest.remove_prefix(8);
  } else if (rest.starts_with("mqtt://")) {
    rest.remove_prefix(7);
  } else {
    return bad_url(url, "unknown scheme");
  }
  if (rest.ends_with('/')) rest.remove_suffix(1);
  const std::size_t bracket = rest.starts_with('[') ? rest.find(']') : 0;
  if (bracket == std::string_view::npos) return bad_url(url, "no closing bracket");
  const std::size_t colon = rest.find(':', bracket);
  const std::string_view host = rest.substr(0, colon);
  if (!is_host(host)) return bad_url(url, "no host name");
  std::string_view port = address.encrypted ? "8883" : "1883";
  if (colon != std::string_view::npos) {
    port = rest.substr(colon + 1);
    if (!is_port(port)) return bad_url(url, "the port is not 1..65535");
  }
  address.server = fmt::format("{}://{}:{}", address.encrypted ? "ssl" : "tcp", host, port);
  return address;
}

Result<BrokerUser> read_user_file(const std::filesystem::path& path) {
  // A pipe would be read for ever, on the loop.
  std::error_code code;
  const auto kind = std::filesystem::status(path, code);
  if (std::filesystem::exists(kind) && !std::filesystem::is_regular_file(kind)) {
    return Error{ErrorCode::bad_input, fmt::format("user file {} is no plain file", path.string())};
  }
  std::ifstream file(path, std::ios::binary);
  std::string text(kUserFileBytesMax + 1, '\0');
  if (file) file.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (!file.is_open() || file.bad()) {
    return Error{ErrorCode::unavailable, fmt::format("cannot read user file {}", path.string())};
  }
  text.resize(static_cast<std::size_t>(file.gcount()));
  if (text.size() > kUserFileBytesMax) {
    return Error{ErrorCode::bad_input, fmt::format("user file {} is longer than {} bytes",
                                                   path.string(), kUserFileBytesMax)};
  }
  auto next_line = [rest = std::string_view(text)]() mutable {
    const std::size_t end = rest.find('\n');
    std::string_view one = rest.substr(0, end);
    rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
    if (one.ends_with('\r')) one.remove_suffix(1);
    return std::string(one);
  };
  BrokerUser user;
  user.name = next_line();
  user.password = next_line();
  if (user.name.empty()) {
    return Error{ErrorCode::bad_input,
                 fmt::format("user file {}: the first line is empty; allowed: the user name, then "
                             "the password on a line of its own",
                             path.string())};
  }
  return user;
}

}  // namespace tubwarden
