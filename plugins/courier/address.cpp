#include "courier/address.hpp"

#include <curl/curl.h>

#include <algorithm>
#include <memory>

namespace tubwarden::courier {

namespace {

constexpr std::size_t kUrlBytesMax = 2048;

struct FreeUrl {
  void operator()(CURLU* url) const { curl_url_cleanup(url); }
};

std::string part_of(CURLU* url, CURLUPart which) {
  char* text = nullptr;
  if (curl_url_get(url, which, &text, 0) != CURLUE_OK) return "";
  const std::string copy = text;
  curl_free(text);
  return copy;
}

Error wrong_url(const std::string& what, std::string_view schemes) {
  const std::size_t bar = schemes.find('|');
  return {ErrorCode::bad_input,
          "url: " + what + "; allowed: " + std::string(schemes.substr(0, bar)) +
              "://host[:port]... or " + std::string(schemes.substr(bar + 1)) + "://host[:port]..."};
}

bool is_loopback(const std::string& host) {
  return host == "localhost" || host == "[::1]" ||
         (host.starts_with("127.") && host.find_first_not_of("0123456789.") == std::string::npos);
}

}  // namespace

Result<Address> parse_address(const std::string& text, std::string_view schemes) {
  const auto plain = [](char c) { return static_cast<unsigned char>(c) > 0x20 && c != 0x7f; };
  if (text.size() > kUrlBytesMax || !std::all_of(text.begin(), text.end(), plain)) {
    return wrong_url("it is too long, or has spaces in it", schemes);
  }
  const std::unique_ptr<CURLU, FreeUrl> url(curl_url());
  if (!url || curl_url_set(url.get(), CURLUPART_URL, text.c_str(), 0) != CURLUE_OK) {
    return wrong_url("it is no URL", schemes);
  }
  Address address;
  address.url = text;
  address.scheme = part_of(url.get(), CURLUPART_SCHEME);
  const std::string known = "|" + std::string(schemes) + "|";
  if (known.find("|" + address.scheme + "|") == std::string::npos) {
    return wrong_url("its scheme is another", schemes);
  }
  if (!part_of(url.get(), CURLUPART_USER).empty() ||
      !part_of(url.get(), CURLUPART_PASSWORD).empty()) {
    return wrong_url("it has a user or password in it, which belong into files", schemes);
  }
  const std::string host = part_of(url.get(), CURLUPART_HOST);
  const std::string port = part_of(url.get(), CURLUPART_PORT);
  if (host.empty()) return wrong_url("it names no host", schemes);
  address.shown = address.scheme + "://" + host + (port.empty() ? "" : ":" + port);
  address.loopback = is_loopback(host);
  return address;
}

}  // namespace tubwarden::courier
