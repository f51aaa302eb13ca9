// The control socket's lines: {"do", "args"} one way, {"ok", "result" | "error"} the other. For the
// files of this room only. Threading: pure. Failure: a line that is not ours is an error, never an
// exception.
#pragma once

#include <cstddef>
#include <string>

#include "base/result.hpp"

namespace tubwarden::wire {

inline constexpr std::size_t kLineMax = 64 * 1024;
inline constexpr std::size_t kAnswerMax = 16 * 1024 * 1024;
inline constexpr int kDepthMax = 32;  ///< of nesting in a request

struct Request {
  std::string what;
  std::string args_json;
};

/// `args_json` must be one JSON object; bytes that are not UTF-8 become U+FFFD.
std::string request_line(const std::string& what, const std::string& args_json);
Result<Request> parse_request(const std::string& line);
std::string answer_line(const Result<std::string>& answer);
Result<std::string> parse_answer(const std::string& line);

}  // namespace tubwarden::wire
