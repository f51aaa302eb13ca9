#include "shell/sheet/lockout.hpp"

#include <arpa/inet.h>

#include <algorithm>
#include <array>

namespace tubwarden::sheet {

std::string household(const std::string& address) {
  in6_addr six{};
  const std::string plain = address.substr(0, address.find('%'));
  if (::inet_pton(AF_INET6, plain.c_str(), &six) != 1) return address;
  if (IN6_IS_ADDR_V4MAPPED(&six) || IN6_IS_ADDR_LOOPBACK(&six)) return plain;
  std::fill(std::begin(six.s6_addr) + 8, std::end(six.s6_addr), std::uint8_t{0});
  std::array<char, INET6_ADDRSTRLEN> text{};
  return std::string(::inet_ntop(AF_INET6, &six, text.data(), text.size())) + "/64";
}

std::optional<Duration> Lockout::wait(const std::string& who, Instant now) const {
  const auto found = known_.find(who);
  if (found == known_.end() || found->second.until <= now) return std::nullopt;
  return found->second.until - now;
}

void Lockout::wrong(const std::string& who, Instant now) {
  if (!known_.contains(who) && known_.size() >= kKnownMax) {
    known_.erase(std::min_element(known_.begin(), known_.end(), [](const auto& a, const auto& b) {
      return a.second.last < b.second.last;
    }));
  }
  Seen& seen = known_[who];
  if (now - seen.last > kForgotten) seen.wrong = 0;
  ++seen.wrong;
  seen.last = now;
  if (seen.wrong < kFree) return;
  const int doubled = std::min(seen.wrong - kFree, 20);
  seen.until = now + std::min<Duration>(seconds(1) * (1 << doubled), kLongest);
}

}  // namespace tubwarden::sheet
