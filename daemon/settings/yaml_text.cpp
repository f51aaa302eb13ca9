#include "settings/yaml_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace tubwarden {
namespace {

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

/// Words that YAML takes for something else than text.
constexpr std::array<std::string_view, 10> kTaken = {"true", "false", "null", "yes", "no",
                                                     "on",   "off",   "y",    "n",   "nan"};

bool plain(std::string_view text) {
  if (text.empty()) return false;
  const bool fits = std::all_of(text.begin(), text.end(), [](char c) {
    return is_letter_or_digit(c) || std::string_view("/_-.+").find(c) != std::string_view::npos;
  });
  const char first = text.front();
  const bool begins = (is_letter_or_digit(first) && (first < '0' || first > '9')) || first == '/';
  std::string small(text);
  std::transform(small.begin(), small.end(), small.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return fits && begins && std::find(kTaken.begin(), kTaken.end(), small) == kTaken.end();
}

}  // namespace

std::string yaml_value(std::string_view text) {
  if (plain(text)) return std::string(text);
  std::string out = "\"";
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const auto byte = static_cast<unsigned char>(c);
    const auto next = i + 1 < text.size() ? static_cast<unsigned char>(text[i + 1]) : 0u;
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (byte < 0x20 || byte == 0x7f) {
      out += fmt::format("\\x{:02x}", byte);
    } else if (byte == 0xC2 && next < 0xA0) {  // U+0080..U+009F: a terminal may obey those
      out += fmt::format("\\x{:02x}", next);
      ++i;
    } else {
      out += c;
    }
  }
  return out + '"';
}

}  // namespace tubwarden
