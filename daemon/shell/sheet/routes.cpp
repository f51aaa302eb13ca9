#include "shell/sheet/routes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <nlohmann/json.hpp>
#include <vector>

#include "shell/sheet/message.hpp"

namespace tubwarden::sheet {
namespace {

using Json = nlohmann::ordered_json;

constexpr int kBodyDepthMax = 16;
constexpr std::size_t kArgumentBytesMax = 200;

constexpr Route kRoutes[] = {
    {"GET", "/api/me", Needs::read, Desk::me, "", ""},
    {"GET", "/api/status", Needs::read, Desk::ask, "status", ""},
    {"GET", "/api/live", Needs::read, Desk::live, "", ""},
    {"GET", "/api/alerts", Needs::read, Desk::ask, "alerts", ""},
    {"GET", "/api/alert_history", Needs::read, Desk::ask, "alert_history", "days#?|limit#?"},
    {"GET", "/api/outputs", Needs::read, Desk::ask, "outputs", ""},
    {"GET", "/api/today", Needs::read, Desk::ask, "today", ""},
    {"GET", "/api/batches", Needs::read, Desk::ask, "batches", ""},
    {"GET", "/api/batch/{batch}", Needs::read, Desk::ask, "batch", ""},
    {"GET", "/api/stays/{of}", Needs::read, Desk::ask, "stays", ""},
    {"GET", "/api/history", Needs::read, Desk::ask, "history", "chamber|from|to|every_s#?"},
    {"GET", "/api/why/{tub}", Needs::read, Desk::ask, "why", "actuator?"},
    {"GET", "/api/why_at/{tub}", Needs::read, Desk::ask, "why_at", "at|actuator?"},
    {"GET", "/api/decisions/{tub}", Needs::read, Desk::ask, "decisions", "actuator?|limit#?"},
    {"GET", "/api/water/{tub}", Needs::read, Desk::ask, "book", ""},
    {"GET", "/metrics", Needs::read, Desk::metrics, "", ""},
    {"POST", "/api/act/phase", Needs::act, Desk::act, "phase", ""},
    {"POST", "/api/act/attend", Needs::act, Desk::act, "attend", ""},
    {"POST", "/api/act/keep_at", Needs::act, Desk::act, "keep_at", ""},
    {"POST", "/api/act/release", Needs::act, Desk::act, "release", ""},
    {"POST", "/api/act/note", Needs::act, Desk::act, "note", ""},
    {"POST", "/api/act/water", Needs::act, Desk::act, "water", ""},
    {"POST", "/api/act/refill", Needs::act, Desk::act, "refill", ""},
    {"POST", "/api/act/move", Needs::act, Desk::act, "move", ""},
    {"POST", "/api/act/harvest", Needs::act, Desk::act, "harvest", ""},
    {"POST", "/api/act/alert_seen", Needs::act, Desk::act, "alert_seen", ""},
    {"POST", "/api/act/alert_quiet", Needs::act, Desk::act, "alert_quiet", ""},
    {"POST", "/api/act/alert_off", Needs::act, Desk::act, "alert_off", ""},
    {"POST", "/api/act/alert_back", Needs::act, Desk::act, "alert_back", ""},
    {"POST", "/signin", Needs::nothing, Desk::signin, "", ""},
    {"POST", "/signout", Needs::nothing, Desk::signout, "", ""},
};

/// The part of a route's path before its argument, and the argument's name; empty where it has
/// none.
std::pair<std::string_view, std::string_view> parts_of(std::string_view path) {
  const std::size_t brace = path.find('{');
  if (brace == std::string_view::npos) return {path, {}};
  return {path.substr(0, brace), path.substr(brace + 1, path.size() - brace - 2)};
}

bool fits(const Route& route, std::string_view path) {
  const auto [before, name] = parts_of(route.path);
  if (name.empty()) return path == before;
  return path.starts_with(before) && path.size() > before.size() &&
         path.find('/', before.size()) == std::string_view::npos;
}

struct Parameter {
  std::string_view name;
  bool number = false, may_miss = false;
};

std::vector<Parameter> parameters_of(std::string_view query) {
  std::vector<Parameter> all;
  while (!query.empty()) {
    Parameter p{query.substr(0, query.find('|'))};
    query.remove_prefix(std::min(p.name.size() + 1, query.size()));
    if (p.name.ends_with('?')) p.may_miss = true, p.name.remove_suffix(1);
    if (p.name.ends_with('#')) p.number = true, p.name.remove_suffix(1);
    all.push_back(p);
  }
  return all;
}

Error bad_argument(const std::string& text) { return {ErrorCode::bad_input, text}; }

std::string allowed_words(const std::vector<Parameter>& parameters) {
  std::string words;
  for (const Parameter& p : parameters) words += (words.empty() ? "" : ", ") + std::string(p.name);
  return words.empty() ? "nothing" : words;
}

Result<Json> value_of(const Parameter& p, const std::string& text) {
  if (text.size() > kArgumentBytesMax) {
    return bad_argument(fmt::format("'{}' is longer than {} bytes", p.name, kArgumentBytesMax));
  }
  if (!p.number) return Json(text);
  double value = 0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code != std::errc() || end != text.data() + text.size()) {
    return bad_argument(fmt::format("'{}' is a number", p.name));
  }
  return Json(value);
}

}  // namespace

std::span<const Route> routes() { return kRoutes; }

const Route* route_for(std::string_view method, std::string_view path, bool& path_known) {
  path_known = false;
  for (const Route& route : kRoutes) {
    if (!fits(route, path)) continue;
    if (route.method == method) return &route;
    path_known = true;
  }
  return nullptr;
}

Result<std::string> args_of(const Route& route, std::string_view path, std::string_view query) {
  Json args = Json::object();
  const auto [before, name] = parts_of(route.path);
  if (!name.empty()) {
    const auto value = decoded(path.substr(before.size()), false);
    if (!value || value->size() > kArgumentBytesMax) {
      return bad_argument(fmt::format("'{}' in the path cannot be read", name));
    }
    args[std::string(name)] = *value;
  }
  const std::vector<Parameter> parameters = parameters_of(route.query);
  const auto fields = form_in(query);
  if (!fields) return bad_argument("what stands behind ? cannot be read; allowed: name=value&...");
  for (const auto& [given, text] : *fields) {
    const auto p = std::find_if(parameters.begin(), parameters.end(),
                                [&, &n = given](const Parameter& k) { return k.name == n; });
    if (p == parameters.end()) {
      return bad_argument(fmt::format("'{}' is not known here; allowed behind ?: {}", given,
                                      allowed_words(parameters)));
    }
    auto value = value_of(*p, text);
    if (!value.ok()) return value.error();
    args[given] = std::move(*value);
  }
  for (const Parameter& p : parameters) {
    if (!p.may_miss && !args.contains(p.name)) {
      return bad_argument(fmt::format("'{}' is missing behind ?", p.name));
    }
  }
  return args.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<std::string> args_in(const std::string& body) {
  bool too_deep = false;
  const auto keep = [&](int depth, Json::parse_event_t, Json&) {
    too_deep = too_deep || depth > kBodyDepthMax;
    return depth <= kBodyDepthMax;
  };
  const Json json = Json::parse(body, keep, false);
  if (too_deep || !json.is_object()) {
    return bad_argument("the body is one JSON object: {\"name\": value}");
  }
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace tubwarden::sheet
