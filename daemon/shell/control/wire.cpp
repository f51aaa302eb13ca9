#include "shell/control/wire.hpp"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <utility>

namespace tubwarden::wire {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::array<std::pair<ErrorCode, const char*>, 6> kCodes = {
    {{ErrorCode::bad_input, "bad_input"},
     {ErrorCode::not_found, "not_found"},
     {ErrorCode::refused, "refused"},
     {ErrorCode::unavailable, "unavailable"},
     {ErrorCode::timed_out, "timed_out"},
     {ErrorCode::broken, "broken"}}};

const char* name_of(ErrorCode code) {
  for (const auto& [known, name] : kCodes) {
    if (known == code) return name;
  }
  ENSURE(false);
}

/// Writing a document descends once a level, so a line of brackets must not choose the depth.
Json parse_shallow(const std::string& line) {
  bool too_deep = false;
  const auto keep = [&](int depth, Json::parse_event_t, Json&) {
    too_deep = too_deep || depth > kDepthMax;
    return depth <= kDepthMax;
  };
  Json json = Json::parse(line, keep, false);
  return too_deep ? Json(Json::value_t::discarded) : json;
}

std::string text_or(const Json& object, const char* name, const char* otherwise) {
  const auto it = object.find(name);
  return it != object.end() && it->is_string() ? it->get<std::string>() : otherwise;
}

ErrorCode code_named(const std::string& name) {
  for (const auto& [code, known] : kCodes) {
    if (name == known) return code;
  }
  return ErrorCode::broken;
}

}  // namespace

std::string request_line(const std::string& what, const std::string& args_json) {
  const Json args = Json::parse(args_json, nullptr, false);
  ENSURE(args.is_object());
  return Json{{"do", what}, {"args", args}}.dump(-1, ' ', false, Json::error_handler_t::replace) +
         "\n";
}

Result<Request> parse_request(const std::string& line) {
  const Json json = parse_shallow(line);
  if (!json.is_object() || !json.contains("do") || !json["do"].is_string()) {
    return Error{
        ErrorCode::bad_input,
        R"(not a request; allowed is one JSON object a line: {"do": "status", "args": {}})"};
  }
  const Json args = json.value("args", Json::object());
  if (!args.is_object()) {
    return Error{ErrorCode::bad_input, "args must be a JSON object"};
  }
  return Request{json["do"].get<std::string>(), args.dump()};
}

std::string answer_line(const Result<std::string>& answer) {
  if (answer.ok()) {
    std::string result = answer.value();
    // Between JSON's tokens a line break is a blank; within a string it stands escaped.
    std::replace(result.begin(), result.end(), '\n', ' ');
    return R"({"ok":true,"result":)" + result + "}\n";
  }
  const Json error = {{"code", name_of(answer.error().code)}, {"text", answer.error().text}};
  return Json{{"ok", false}, {"error", error}}.dump(-1, ' ', false,
                                                    Json::error_handler_t::replace) +
         "\n";
}

Result<std::string> parse_answer(const std::string& line) {
  const Json json = Json::parse(line, nullptr, false);
  const Error unreadable{ErrorCode::broken, "the daemon's answer cannot be read"};
  if (!json.is_object() || !json.contains("ok") || !json["ok"].is_boolean()) return unreadable;
  if (json["ok"].get<bool>()) {
    return json.contains("result") ? Result<std::string>(json["result"].dump()) : unreadable;
  }
  if (!json.contains("error") || !json["error"].is_object()) return unreadable;
  const Json& error = json["error"];
  return Error{code_named(text_or(error, "code", "")),
               text_or(error, "text", "no reason was given")};
}

}  // namespace tubwarden::wire
