#include "shell/control/wire.hpp"

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

ErrorCode code_named(const std::string& name) {
  for (const auto& [code, known] : kCodes) {
    if (name == known) return code;
  }
  return ErrorCode::broken;
}

}  // namespace

std::string request_line(const std::string& what, const std::string& args_json) {
  return Json{{"do", what}, {"args", Json::parse(args_json)}}.dump() + "\n";
}

Result<Request> parse_request(const std::string& line) {
  const Json json = Json::parse(line, nullptr, false);
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
  if (answer.ok()) return R"({"ok":true,"result":)" + answer.value() + "}\n";
  const Json error = {{"code", name_of(answer.error().code)}, {"text", answer.error().text}};
  return Json{{"ok", false}, {"error", error}}.dump(-1, ' ', false,
                                                    Json::error_handler_t::replace) +
         "\n";
}

Result<std::string> parse_answer(const std::string& line) {
  const Json json = Json::parse(line, nullptr, false);
  if (!json.is_object() || !json.value("ok", Json()).is_boolean()) {
    return Error{ErrorCode::broken, "the daemon's answer cannot be read"};
  }
  if (json["ok"].get<bool>()) return json.value("result", Json::object()).dump();
  const Json error = json.value("error", Json::object());
  return Error{code_named(error.value("code", "")), error.value("text", "no reason was given")};
}

}  // namespace tubwarden::wire
