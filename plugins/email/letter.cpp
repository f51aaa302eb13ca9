#include "email/letter.hpp"

#include <algorithm>
#include <cstdio>
#include <ctime>

namespace tubwarden::email {

namespace {

constexpr std::size_t kAddressMax = 254;
constexpr std::size_t kPlainSubjectMax = 66;
/// 52 characters of base64: with the word's frame and the header's name below the 76 of RFC 2047.
constexpr std::size_t kWordBytesMax = 39;
constexpr std::size_t kEncodedLineMax = 75;

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

std::string base64(std::string_view bytes) {
  constexpr char kLetters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (; !bytes.empty(); bytes.remove_prefix(std::min<std::size_t>(3, bytes.size()))) {
    std::uint32_t group = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      group = group << 8 | (i < bytes.size() ? static_cast<unsigned char>(bytes[i]) : 0u);
    }
    for (std::size_t i = 0; i < 4; ++i) {
      out += i <= bytes.size() ? kLetters[group >> (18 - 6 * i) & 63] : '=';
    }
  }
  return out;
}

/// RFC 5322, 3.3, in universal time; the C library's names follow a locale.
std::string date(std::int64_t unix_s) {
  constexpr const char* kDays[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
  constexpr const char* kMonths[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const auto time = static_cast<std::time_t>(unix_s);
  std::tm utc{};
  ::gmtime_r(&time, &utc);
  char text[64];
  std::snprintf(text, sizeof text, "%s, %02d %s %d %02d:%02d:%02d +0000", kDays[utc.tm_wday % 7],
                utc.tm_mday, kMonths[utc.tm_mon % 12], 1900 + utc.tm_year, utc.tm_hour, utc.tm_min,
                utc.tm_sec);
  return text;
}

/// What may stand in an atom (RFC 5322, 3.2.3), of whatever text.
std::string atom(std::string_view text) {
  std::string out(text);
  for (char& c : out) {
    if (!is_letter_or_digit(c) && c != '_' && c != '-') c = '-';
  }
  return out.empty() ? "-" : out;
}

std::string message_id(const Letter& letter, std::string_view key) {
  return "<" + atom(key) + "." + atom(letter.site) + letter.from.substr(letter.from.find('@')) +
         ">";
}

}  // namespace

bool is_address(std::string_view text) {
  const std::size_t at = text.find('@');
  if (at == std::string_view::npos || at == 0 || at + 1 == text.size()) return false;
  if (text.size() > kAddressMax || text.find('@', at + 1) != std::string_view::npos) return false;
  return std::all_of(text.begin(), text.end(), [](char c) {
    return c > 0x20 && c < 0x7f && std::string_view("<>()[],;:\\\"").find(c) == std::string::npos;
  });
}

std::string header_text(std::string_view text) {
  std::string line(text);
  bool plain = line.size() <= kPlainSubjectMax && line.find("=?") == std::string::npos;
  for (char& c : line) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
    plain = plain && c < 0x7f && c >= 0x20;
  }
  if (plain) return line;
  std::string out;
  for (std::string_view rest = line; !rest.empty();) {
    std::size_t length = std::min(rest.size(), kWordBytesMax);
    // A word ends between two characters: their later bytes are 10xxxxxx.
    while (length > 1 && length < rest.size() &&
           (static_cast<unsigned char>(rest[length]) & 0xC0) == 0x80) {
      --length;
    }
    out += (out.empty() ? "=?UTF-8?B?" : "\r\n =?UTF-8?B?") + base64(rest.substr(0, length)) + "?=";
    rest.remove_prefix(length);
  }
  return out;
}

std::string quoted_printable(std::string_view text) {
  constexpr char kDigits[] = "0123456789ABCDEF";
  std::string out;
  std::size_t column = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\r' && i + 1 < text.size() && text[i + 1] == '\n') continue;
    if (c == '\n' || c == '\r') {
      out += "\r\n";
      column = 0;
      continue;
    }
    const bool ends_line = i + 1 == text.size() || text[i + 1] == '\n' || text[i + 1] == '\r';
    const bool dot = c == '.' && column == 0;  // never a line that ends the letter
    const bool plain = (c > 0x20 && c < 0x7f && c != '=' && !dot) || (c == ' ' && !ends_line);
    const std::size_t width = plain ? 1 : 3;
    if (column + width > kEncodedLineMax) {
      out += "=\r\n";
      column = 0;
    }
    if (plain) {
      out += c;
    } else {
      const auto byte = static_cast<unsigned char>(c);
      out += {'=', kDigits[byte >> 4], kDigits[byte & 15]};
    }
    column += width;
  }
  return out + (column > 0 ? "\r\n" : "");
}

std::string written_out(const Letter& letter, const Note& note) {
  std::string out;
  const auto header = [&out](const char* name, const std::string& value) {
    out += std::string(name) + ": " + value + "\r\n";
  };
  header("Date", date(letter.unix_s));
  header("From", "\"Tubwarden " + atom(letter.site) + "\"\r\n <" + letter.from + ">");
  std::string to;
  for (const std::string& each : letter.to) to += (to.empty() ? "" : ",\r\n ") + each;
  header("To", to);
  header("Subject", header_text(note.title));
  header("Message-ID", message_id(letter, note.key));
  if (constexpr std::string_view kOver = "/over"; note.key.ends_with(kOver)) {
    const std::string raise = note.key.substr(0, note.key.size() - kOver.size());
    header("In-Reply-To", message_id(letter, raise));
    header("References", message_id(letter, raise));
  }
  if (note.rank == "now" && note.state == "raised") header("Importance", "high");
  header("Auto-Submitted", "auto-generated");  // RFC 3834: nobody's absence answers it
  header("MIME-Version", "1.0");
  header("Content-Type", "text/plain; charset=utf-8");
  header("Content-Transfer-Encoding", "quoted-printable");
  return out + "\r\n" + quoted_printable(note.text);
}

}  // namespace tubwarden::email
