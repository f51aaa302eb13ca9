// One request and one answer of the sheet, as values. For the files of this room only.
// Threading: plain values. Failure: none.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::sheet {

/// What of a request is looked at. Of a header that came twice the first counts; what would be
/// dangerous twice never gets so far.
struct Request {
  std::string method, path, query;
  std::string host, origin, fetch_site, authorization, cookie, content_type, accept_encoding,
      if_none_match, act, forwarded_for, forwarded_proto;
  std::string body;
  bool keep_alive = true;
  std::string peer;        ///< its address
  bool encrypted = false;  ///< as far as the browser sees
};

struct Answer {
  int status = 200;
  std::string type = "application/json";
  std::string body;
  std::string_view fixed;  ///< instead of body: lives as long as the program
  std::vector<std::pair<std::string, std::string>> headers;
  bool live = false;   ///< what follows are events
  bool close = false;  ///< the connection ends behind it
};

using Answered = std::function<void(Answer)>;

/// An error as the interface tells it.
Answer refusal(int status, const std::string& code, const std::string& text);
Answer refusal(const Error& error);
Answer see_other(const std::string& where);
/// The bytes of an answer up to its body.
std::string head_of(const Answer& answer, bool keep_alive);

/// "a=1&b=%20" as names and values, decoded; nothing where it is malformed.
std::optional<std::vector<std::pair<std::string, std::string>>> form_in(std::string_view text);
/// %XX decoded; nothing where it is malformed or holds a zero byte.
std::optional<std::string> decoded(std::string_view text, bool plus_is_blank);

}  // namespace tubwarden::sheet
