#include "sdk/wiring.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

namespace tubwarden {

using Json = nlohmann::json;

namespace {

std::string scalar(const Json& value) {
  return value.is_string() ? value.get<std::string>() : value.dump();
}

std::optional<double> unit_ms(std::string_view unit) {
  if (unit == "ms") return 1.0;
  if (unit == "s") return 1e3;
  if (unit == "m") return 60e3;
  if (unit == "h") return 3600e3;
  if (unit == "d") return 86400e3;
  return std::nullopt;
}

/// As the configuration writes it: "20s", "1.5 s", "1h 30m".
std::optional<std::chrono::milliseconds> parse_duration(std::string_view text) {
  constexpr double kLongestMs = 365.0 * 86400e3;
  const auto skip_spaces = [&text] {
    text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
  };
  double sum_ms = 0.0;
  do {
    double count = 0.0;
    const char* const end = text.data() + text.size();
    const auto [rest, error] = std::from_chars(text.data(), end, count);
    if (error != std::errc() || !(count >= 0.0)) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(rest - text.data()));
    skip_spaces();
    const std::string_view unit =
        text.substr(0, text.find_first_not_of("abcdefghijklmnopqrstuvwxyz"));
    const auto ms = unit_ms(unit);
    if (!ms) return std::nullopt;
    sum_ms += count * *ms;
    text.remove_prefix(unit.size());
    skip_spaces();
  } while (!text.empty());
  if (sum_ms > kLongestMs) return std::nullopt;
  return std::chrono::milliseconds(std::llround(sum_ms));
}

}  // namespace

Result<Wiring> Wiring::parse(std::string_view text) {
  const Json json = Json::parse(text, nullptr, false);
  if (!json.is_object()) return Error{ErrorCode::bad_input, "the wiring is not a JSON object"};
  Wiring wiring;
  for (const auto& [name, value] : json.items()) {
    if (value.is_null()) continue;
    if (value.is_object()) {
      wiring.objects_[name] = value.dump();
    } else if (value.is_array()) {
      for (const Json& item : value) wiring.lists_[name].push_back(scalar(item));
      if (value.empty()) wiring.lists_[name];
    } else {
      wiring.texts_[name] = scalar(value);
    }
  }
  return wiring;
}

bool Wiring::has(const std::string& name) const {
  return texts_.contains(name) || lists_.contains(name) || objects_.contains(name);
}

std::vector<std::string> Wiring::names() const {
  std::vector<std::string> all;
  for (const auto& [name, value] : texts_) all.push_back(name);
  for (const auto& [name, value] : lists_) all.push_back(name);
  for (const auto& [name, value] : objects_) all.push_back(name);
  return all;
}

std::optional<std::string> Wiring::text_if(const std::string& name) const {
  const auto found = texts_.find(name);
  return found == texts_.end() ? std::nullopt : std::optional(found->second);
}

Result<std::string> Wiring::text(const std::string& name) const {
  if (const auto found = text_if(name)) return *found;
  return Error{ErrorCode::bad_input, "wiring: '" + name + "' is required, one text or number"};
}

std::string Wiring::text_or(const std::string& name, const std::string& fallback) const {
  return text_if(name).value_or(fallback);
}

Result<std::vector<std::string>> Wiring::list(const std::string& name) const {
  const auto found = lists_.find(name);
  if (found != lists_.end() && !found->second.empty()) return found->second;
  return Error{ErrorCode::bad_input,
               "wiring: '" + name + "' is required, a list with one item or more"};
}

Result<std::chrono::milliseconds> Wiring::duration_or(const std::string& name,
                                                      std::chrono::milliseconds fallback) const {
  const auto text = text_if(name);
  if (!text) return fallback;
  if (const auto parsed = parse_duration(*text)) return *parsed;
  return Error{ErrorCode::bad_input,
               "wiring: '" + name + "' is '" + *text + "'; allowed: 500ms, 20s, 5m, 1h"};
}

std::optional<std::chrono::milliseconds> Wiring::duration(std::string_view text) {
  return parse_duration(text);
}

Wiring Wiring::object(const std::string& name) const {
  const auto found = objects_.find(name);
  if (found == objects_.end()) return {};
  const Result<Wiring> nested = parse(found->second);
  return nested ? *nested : Wiring{};
}

}  // namespace tubwarden
