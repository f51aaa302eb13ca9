// One message as a letter: RFC 5322 headers and a plain text, for any mail server.
// Threading: pure. Failure: none; an address that is none is told by is_address().
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sdk/note.hpp"

namespace tubwarden::email {

/// "box@host", ASCII without quoting, at most 254 characters (RFC 5321, 4.5.3.1.3).
bool is_address(std::string_view text);

struct Letter {
  std::string site;
  std::string from;
  std::vector<std::string> to;
  std::int64_t unix_s = 0;  ///< of its Date
};

/// Lines end with CRLF and are at most 78 long (998 where a name is longer than that). Its
/// Message-ID is made of site and key: a second delivery is known as one. A return answers its
/// raise, so that a reader shows them as one thread.
std::string written_out(const Letter& letter, const Note& note);

/// RFC 2047: words of base64 where the text is not short, plain ASCII. One line of meaning: what
/// controls becomes a space.
std::string header_text(std::string_view text);
/// RFC 2045, section 6.7.
std::string quoted_printable(std::string_view text);

}  // namespace tubwarden::email
