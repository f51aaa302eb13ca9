#include "shell/sheet/message.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace tubwarden::sheet {
namespace {

constexpr std::size_t kFieldsMax = 64;

/// No script but ours, nothing from elsewhere, and no page around us. Styles that a script sets on
/// an element are none of a policy's business.
constexpr std::string_view kPolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src "
    "'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'";

const char* reason(int status) {
  switch (status) {
    case 200:
      return "OK";
    case 303:
      return "See Other";
    case 304:
      return "Not Modified";
    case 400:
      return "Bad Request";
    case 401:
      return "Unauthorized";
    case 403:
      return "Forbidden";
    case 404:
      return "Not Found";
    case 405:
      return "Method Not Allowed";
    case 406:
      return "Not Acceptable";
    case 408:
      return "Request Timeout";
    case 409:
      return "Conflict";
    case 413:
      return "Content Too Large";
    case 415:
      return "Unsupported Media Type";
    case 421:
      return "Misdirected Request";
    case 429:
      return "Too Many Requests";
    case 431:
      return "Request Header Fields Too Large";
    case 503:
      return "Service Unavailable";
    case 504:
      return "Gateway Timeout";
    default:  // an open set: a status is a number
      return "Internal Server Error";
  }
}

int digit_in(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

}  // namespace

Answer refusal(int status, const std::string& code, const std::string& text) {
  Answer answer;
  answer.status = status;
  answer.body = nlohmann::ordered_json{{"error", {{"code", code}, {"text", text}}}}.dump(
      -1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
  return answer;
}

Answer refusal(const Error& error) {
  switch (error.code) {
    case ErrorCode::bad_input:
      return refusal(400, "bad_input", error.text);
    case ErrorCode::not_found:
      return refusal(404, "not_found", error.text);
    case ErrorCode::refused:
      return refusal(409, "refused", error.text);
    case ErrorCode::unavailable:
      return refusal(503, "unavailable", error.text);
    case ErrorCode::timed_out:
      return refusal(504, "timed_out", error.text);
    case ErrorCode::broken:
      return refusal(500, "broken", error.text);
  }
  ENSURE(false);
}

Answer see_other(const std::string& where) {
  Answer answer;
  answer.status = 303;
  answer.type.clear();
  answer.headers.emplace_back("Location", where);
  return answer;
}

std::string head_of(const Answer& answer, bool keep_alive) {
  std::string head = fmt::format("HTTP/1.1 {} {}\r\n", answer.status, reason(answer.status));
  const auto add = [&](std::string_view name, std::string_view value) {
    head.append(name).append(": ").append(value).append("\r\n");
  };
  bool cached = false;
  for (const auto& [name, value] : answer.headers) {
    add(name, value);
    cached = cached || name == "Cache-Control";
  }
  if (!answer.type.empty()) add("Content-Type", answer.type);
  if (!answer.live && answer.status != 304) {
    add("Content-Length",
        std::to_string(answer.fixed.empty() ? answer.body.size() : answer.fixed.size()));
  }
  if (!cached) add("Cache-Control", "no-store");
  add("Connection", keep_alive && !answer.live ? "keep-alive" : "close");
  add("Content-Security-Policy", kPolicy);
  add("X-Content-Type-Options", "nosniff");
  add("Referrer-Policy", "same-origin");
  add("Cross-Origin-Resource-Policy", "same-origin");
  add("Cross-Origin-Opener-Policy", "same-origin");
  add("X-Frame-Options", "DENY");
  return head + "\r\n";
}

std::optional<std::string> decoded(std::string_view text, bool plus_is_blank) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '+' && plus_is_blank) {
      out += ' ';
    } else if (text[i] != '%') {
      out += text[i];
    } else {
      if (i + 2 >= text.size()) return std::nullopt;
      const int high = digit_in(text[i + 1]), low = digit_in(text[i + 2]);
      if (high < 0 || low < 0 || high + low == 0) return std::nullopt;
      out += static_cast<char>(high * 16 + low);
      i += 2;
    }
  }
  return out;
}

std::optional<std::vector<std::pair<std::string, std::string>>> form_in(std::string_view text) {
  std::vector<std::pair<std::string, std::string>> fields;
  while (!text.empty()) {
    const std::string_view field = text.substr(0, text.find('&'));
    text.remove_prefix(std::min(field.size() + 1, text.size()));
    const std::size_t equals = std::min(field.find('='), field.size());
    auto name = decoded(field.substr(0, equals), true);
    auto value = decoded(field.substr(std::min(equals + 1, field.size())), true);
    if (!name || name->empty() || !value || fields.size() == kFieldsMax) return std::nullopt;
    fields.emplace_back(std::move(*name), std::move(*value));
  }
  return fields;
}

}  // namespace tubwarden::sheet
