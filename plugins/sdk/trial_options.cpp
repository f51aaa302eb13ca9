#include "sdk/trial_options.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <nlohmann/json.hpp>
#include <utility>

#include "sdk/wiring.hpp"

namespace tubwarden::protocol {

using Json = nlohmann::json;

namespace {

constexpr std::array<std::string_view, 9> kTypes = {
    "text", "topic", "number", "integer", "boolean", "duration", "list", "file", "device"};

std::optional<double> number(std::string_view text) {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

/// A bound or value of a numeric type as a number: durations in milliseconds.
std::optional<double> measured(const OptionRow& row, std::string_view text) {
  if (row.type != "duration") return number(text);
  const auto ms = Wiring::duration(text);
  return ms ? std::optional(static_cast<double>(ms->count())) : std::nullopt;
}

std::string written(const OptionRow& row, double value) {
  const auto whole = static_cast<long long>(value);
  return std::to_string(whole) + (row.type == "duration" ? "ms" : "");
}

bool is_measured(const OptionRow& row) {
  return row.type == "number" || row.type == "integer" || row.type == "duration";
}

struct Bounds {
  double low = 0.0, high = 0.0;
};
std::optional<Bounds> bounds_of(const OptionRow& row) {
  const std::size_t dots = row.range.find("..");
  if (dots == std::string::npos || !is_measured(row)) return std::nullopt;
  const auto low = measured(row, std::string_view(row.range).substr(0, dots));
  const auto high = measured(row, std::string_view(row.range).substr(dots + 2));
  if (!low || !high || *low > *high) return std::nullopt;
  return Bounds{*low, *high};
}

bool is_choice(const OptionRow& row) { return row.range.find('|') != std::string::npos; }

bool among(const OptionRow& row, const std::string& word) {
  return ("|" + row.range + "|").find("|" + word + "|") != std::string::npos;
}

std::optional<std::string> wrong_fallback(const OptionRow& row) {
  if (!row.fallback || row.fallback->empty()) return std::nullopt;
  const std::string told = "its fallback '" + *row.fallback + "' ";
  if (is_measured(row)) {
    const auto value = measured(row, *row.fallback);
    if (!value) return told + "is no " + row.type;
    const auto bounds = bounds_of(row);
    if (bounds && (*value < bounds->low || *value > bounds->high)) return told + "is out of range";
  }
  if (row.type == "boolean" && *row.fallback != "true" && *row.fallback != "false") {
    return told + "is neither true nor false";
  }
  if (is_choice(row) && !among(row, *row.fallback)) return told + "is not among " + row.range;
  return std::nullopt;
}

}  // namespace

Result<TrialOptions> decode_trial_options(std::string_view text) {
  const Json json = Json::parse(text, nullptr, false);
  const auto wrong = [](std::string why) { return Error{ErrorCode::bad_input, std::move(why)}; };
  if (!json.is_object()) return wrong("is not one JSON object");
  for (const auto& [name, value] : json.items()) {
    if (name != "wiring" && name != "site") {
      return wrong("has an unknown member '" + name + "'; known: wiring, site");
    }
    if (!value.is_object()) return wrong(name + " is not an object");
  }
  if (!json.contains("wiring")) return wrong("has no 'wiring'");
  TrialOptions options;
  options.wiring_json = json["wiring"].dump(-1, ' ', false, Json::error_handler_t::replace);
  if (json.contains("site")) {
    options.site_json = json["site"].dump(-1, ' ', false, Json::error_handler_t::replace);
  }
  for (const auto& [name, value] : json["wiring"].items()) options.names.push_back(name);
  return options;
}

std::string with_option(const std::string& wiring_json, const std::string& name,
                        const std::optional<std::string>& value) {
  Json json = Json::parse(wiring_json, nullptr, false);
  if (!json.is_object()) json = Json::object();
  if (value) {
    json[name] = *value;
  } else {
    json.erase(name);
  }
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::vector<std::string> wrong_values(const OptionRow& row) {
  std::vector<std::string> wrong;
  if (is_measured(row)) wrong.push_back("no-number");
  if (row.type == "boolean") wrong.push_back("maybe");
  if (is_choice(row)) wrong.push_back("no-such-word");
  if (const auto bounds = bounds_of(row)) {
    wrong.push_back(written(row, bounds->high + 1));
    if (bounds->low >= 1) wrong.push_back(written(row, bounds->low - 1));
  }
  return wrong;
}

std::optional<std::string> wrong_value(const OptionRow& row, const std::string& value) {
  if (is_measured(row)) {
    const auto given = measured(row, value);
    const bool whole = row.type != "integer" || value.find_first_of(".eE") == std::string::npos;
    const auto bounds = bounds_of(row);
    const bool outside = given && bounds && (*given < bounds->low || *given > bounds->high);
    if (given && whole && !outside) return std::nullopt;
    return bounds ? row.range : row.type == "duration" ? "20s, 5m" : "a " + row.type;
  }
  if (row.type == "boolean") {
    return value == "true" || value == "false" ? std::nullopt : std::optional("true, false");
  }
  if (row.type == "topic") {
    const bool one = !value.empty() && value.find_first_of("+#") == std::string::npos;
    return one ? std::nullopt : std::optional("one topic, without + and #");
  }
  if (is_choice(row)) return among(row, value) ? std::nullopt : std::optional(row.range);
  return value.empty() ? std::optional("any text") : std::nullopt;
}

std::optional<std::string> wrong_row(const OptionRow& row) {
  const bool plain =
      !row.name.empty() &&
      row.name.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") == std::string::npos;
  if (!plain) return "its name must be of a-z, 0-9 and _";
  if (std::find(kTypes.begin(), kTypes.end(), row.type) == kTypes.end()) {
    return "its type '" + row.type +
           "' is unknown; allowed: text, topic, number, integer, boolean, duration, list, file, "
           "device";
  }
  if (row.help.empty()) return "it has no help";
  if (is_measured(row) && !row.range.empty() && !bounds_of(row)) {
    return "its range '" + row.range + "' is not low..high";
  }
  return wrong_fallback(row);
}

}  // namespace tubwarden::protocol
