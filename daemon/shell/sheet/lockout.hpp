// Who has shown wrong tokens waits, longer each time. Threading: plain values; time is an argument.
// Failure: none; a full table forgets who was quiet longest.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "base/time.hpp"

namespace tubwarden::sheet {

/// An address as far as it tells one from another: an IPv6 network of 64 bits is one household.
std::string household(const std::string& address);

class Lockout {
 public:
  static constexpr int kFree = 3;                      ///< wrong tokens before the first wait
  static constexpr Duration kLongest = minutes(15);    ///< the waits double up to this
  static constexpr Duration kForgotten = minutes(60);  ///< without a further wrong one
  static constexpr std::size_t kKnownMax = 1024;

  /// How long this one still has to wait; nothing: it may try.
  std::optional<Duration> wait(const std::string& who, Instant now) const;
  void wrong(const std::string& who, Instant now);
  void right(const std::string& who) { known_.erase(who); }
  std::size_t known() const { return known_.size(); }

 private:
  struct Seen {
    int wrong = 0;
    Instant last{}, until{};
  };
  std::map<std::string, Seen> known_;
};

}  // namespace tubwarden::sheet
