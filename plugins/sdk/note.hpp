// The one message a channel is given, as a plugin reads it, and text that goes into another format.
// Threading: pure functions. Failure: a message that is not of the protocol is an Error.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden {

struct Note {
  std::string key;               ///< an idempotency key: the same for each try
  std::string rank;              ///< "now", "today" or "noted"
  std::string state = "raised";  ///< or "over"
  std::string title;             ///< one line
  std::string text;              ///< lines
};

/// All members are text; an absent one is empty, but for the state. Unknown members are passed
/// over.
Result<Note> parse_note(std::string_view json);

/// What stands between the quotes of a JSON string (RFC 8259, section 7), ASCII only. What is no
/// UTF-8 becomes U+FFFD.
std::string json_escaped(std::string_view text);
bool is_json(std::string_view text);

}  // namespace tubwarden
