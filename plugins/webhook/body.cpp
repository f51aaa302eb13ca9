#include "webhook/body.hpp"

#include <optional>

namespace tubwarden::webhook {

namespace {

/// application/x-www-form-urlencoded, as the URL standard serialises it.
std::string form_escaped(std::string_view text) {
  constexpr char kDigits[] = "0123456789ABCDEF";
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
    if (letter || c == '*' || c == '-' || c == '.' || c == '_') {
      out += c;
    } else if (c == ' ') {
      out += '+';
    } else {
      out += {'%', kDigits[byte >> 4], kDigits[byte & 15]};
    }
  }
  return out;
}

std::string escaped(const std::string& text, Escape escape) {
  switch (escape) {
    case Escape::json:
      return json_escaped(text);
    case Escape::form:
      return form_escaped(text);
    case Escape::none:
      return text;
  }
  return "";
}

std::optional<std::string> value_named(std::string_view name, const Note& note,
                                       const std::string& site) {
  if (name == "site") return site;
  if (name == "key") return note.key;
  if (name == "rank") return note.rank;
  if (name == "state") return note.state;
  if (name == "title") return note.title;
  if (name == "text") return note.text;
  return std::nullopt;
}

}  // namespace

Result<std::string> fill_body(std::string_view pattern, const Note& note, const std::string& site,
                              Escape escape) {
  std::string out;
  while (!pattern.empty()) {
    const std::size_t brace = pattern.find('{');
    out += pattern.substr(0, brace);
    if (brace == std::string_view::npos) break;
    pattern.remove_prefix(brace);
    const std::size_t end = pattern.find_first_not_of("abcdefghijklmnopqrstuvwxyz_", 1);
    if (end == std::string_view::npos || end == 1 || pattern[end] != '}') {
      out += '{';
      pattern.remove_prefix(1);
      continue;
    }
    const std::string name(pattern.substr(1, end - 1));
    const auto value = value_named(name, note, site);
    if (!value) {
      return Error{ErrorCode::bad_input,
                   "wiring: body has an unknown {" + name +
                       "}; known: {site} {rank} {state} {title} {text} {key}"};
    }
    out += escaped(*value, escape);
    pattern.remove_prefix(end + 1);
  }
  return out;
}

}  // namespace tubwarden::webhook
