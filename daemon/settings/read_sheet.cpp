#include <arpa/inet.h>
#include <fmt/format.h>

#include <array>

#include "base/text.hpp"
#include "settings/readers.hpp"

namespace tubwarden {
namespace {

bool is_numeric_address(const std::string& text) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  return ::inet_pton(AF_INET, text.c_str(), bytes.data()) == 1 ||
         ::inet_pton(AF_INET6, text.c_str(), bytes.data()) == 1;
}

bool is_loopback(const std::string& address) {
  in_addr four{};
  if (::inet_pton(AF_INET, address.c_str(), &four) == 1) return (ntohl(four.s_addr) >> 24) == 127;
  in6_addr six{};
  return ::inet_pton(AF_INET6, address.c_str(), &six) == 1 && IN6_IS_ADDR_LOOPBACK(&six);
}

/// ADDRESS:PORT or [ADDRESS]:PORT into its two; false where it is neither.
bool take_listen(const std::string& text, SheetSettings& sheet) {
  const std::size_t colon = text.rfind(':');
  if (colon == std::string::npos) return false;
  std::string address = text.substr(0, colon);
  const bool six = address.starts_with('[') && address.ends_with(']');
  if (six) address = address.substr(1, address.size() - 2);
  if (six != (address.find(':') != std::string::npos) || !is_numeric_address(address)) return false;
  const auto port = plain_number(text.substr(colon + 1));
  if (!port || *port < 1 || *port > 65535 || *port != static_cast<int>(*port)) return false;
  sheet.address = address;
  sheet.port = static_cast<int>(*port);
  return true;
}

}  // namespace

SheetSettings read_sheet(const Section& s) {
  SheetSettings sheet;
  if (const auto listen = s.text("listen"); listen && !take_listen(*listen, sheet)) {
    s.findings().error(s.at("listen"),
                       fmt::format("{} is no place to listen at; allowed: ADDRESS:PORT in numbers "
                                   "(127.0.0.1:8437, 0.0.0.0:8437), or [ADDRESS]:PORT",
                                   in_quotes(*listen)));
  }
  sheet.tokens_file = s.text("tokens_file");
  sheet.cert_file = s.text("cert_file");
  sheet.key_file = s.text("key_file");
  sheet.name = s.text("name");
  sheet.proxy = s.text("proxy");
  if (s.has("cert_file") != s.has("key_file")) {
    s.findings().error(s.key_at(s.has("cert_file") ? "cert_file" : "key_file"),
                       "cert_file and key_file belong together; give both or none");
  }
  if (sheet.proxy && !is_numeric_address(*sheet.proxy)) {
    s.findings().error(s.at("proxy"), fmt::format("{} is no address; allowed: one in numbers, as "
                                                  "127.0.0.1",
                                                  in_quotes(*sheet.proxy)));
  }
  if (sheet.proxy && !sheet.tokens_file) {
    s.findings().error(s.at("proxy"),
                       "behind a proxy everybody comes from its address, so each needs a token; "
                       "give tokens_file, too");
  }
  if (is_loopback(sheet.address)) return sheet;
  if (!sheet.tokens_file) {
    s.findings().error(s.at("listen"),
                       "others than this board can reach that address, and nobody is asked who "
                       "they are; give tokens_file, too, or listen on 127.0.0.1");
  }
  if (!sheet.cert_file) {
    s.findings().warning(s.at("listen"),
                         "without cert_file and key_file tokens and readings pass the network in "
                         "the clear; give both, or put a proxy with TLS before it");
  }
  return sheet;
}

}  // namespace tubwarden
