// Reading an answer without trust: a member that is missing or of another kind is empty.
// For the files of this folder only. Threading: pure. Failure: none.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "programs/cli/show.hpp"

namespace tubwarden::cli {

using Json = nlohmann::ordered_json;

inline const Json& member(const Json& object, const char* name) {
  static const Json nothing;
  if (!object.is_object()) return nothing;
  const auto it = object.find(name);
  return it == object.end() ? nothing : *it;
}
inline std::string text(const Json& object, const char* name) {
  const Json& m = member(object, name);
  return m.is_string() ? m.get<std::string>() : std::string();
}
inline std::optional<double> number(const Json& object, const char* name) {
  const Json& m = member(object, name);
  return m.is_number() ? std::optional<double>(m.get<double>()) : std::nullopt;
}
inline bool yes(const Json& object, const char* name) {
  const Json& m = member(object, name);
  return m.is_boolean() && m.get<bool>();
}
inline const Json& list(const Json& object, const char* name) {
  static const Json nothing = Json::array();
  const Json& m = member(object, name);
  return m.is_array() ? m : nothing;
}
inline std::optional<double> at(const Json& array, std::size_t index) {
  if (!array.is_array() || array.size() <= index || !array[index].is_number()) return std::nullopt;
  return array[index].get<double>();
}

/// A request's arguments as text; bytes that are no UTF-8 are replaced.
inline std::string dumped(const Json& args) {
  return args.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// The answer as an object that has the member `must`, or what to do about it.
Result<Json> parsed(const std::string& json, const char* must);

/// "1 entry", "4 entries".
std::string counted(double count, const char* one, const char* many);
/// A table row of one alert.
std::string alert_row(const Json& alert, const Look& look);
/// A process that holds a driver, and what it is held to.
std::string host_row(const Json& host, const Look& look);
/// Alerts, the pressing ones first.
std::vector<Json> by_rank(const Json& alerts);

}  // namespace tubwarden::cli
