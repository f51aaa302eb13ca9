// Where a channel goes: a URL taken apart, and the part of it that may be said aloud.
// Threading: pure. Failure: an Error that says what is allowed and never repeats the URL, which may
// hold a secret.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden::courier {

struct Address {
  std::string url;     ///< as given
  std::string scheme;  ///< in small letters
  std::string shown;   ///< "https://host" or "https://host:port", for words
  bool loopback = false;
};

/// `schemes`: the two that are allowed, "http|https". A user or password in the URL is refused:
/// what stands in a configuration is shown and copied.
Result<Address> parse_address(const std::string& url, std::string_view schemes);

}  // namespace tubwarden::courier
