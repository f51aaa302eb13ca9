#include "programs/cli/page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden::cli {
namespace {

/// A text gets no narrower column than this; else it goes below its head.
constexpr std::size_t kBesideLeast = 20;
constexpr char kEscape = '\x1b';
/// A space inside a word of ours; clean() lets none in from elsewhere.
constexpr char kHardSpace = '\x1f';

bool continues(char c) { return (static_cast<unsigned char>(c) & 0xC0u) == 0x80u; }

const char* sequence_of(Ink ink) {
  switch (ink) {
    case Ink::plain:
      return "";
    case Ink::faint:
      return "\x1b[2m";
    case Ink::strong:
      return "\x1b[1m";
    case Ink::warn:
      return "\x1b[33m";
    case Ink::alarm:
      return "\x1b[1;31m";
  }
  ENSURE(false);
}

}  // namespace

std::string inked(std::string_view text, Ink ink, const Look& look) {
  if (!look.colour || ink == Ink::plain || text.empty()) return std::string(text);
  return fmt::format("{}{}\x1b[0m", sequence_of(ink), text);
}

std::size_t columns(std::string_view text) {
  std::size_t count = 0;
  bool in_sequence = false;
  for (const char c : text) {
    if (in_sequence) {
      in_sequence = c != 'm';
    } else if (c == kEscape) {
      in_sequence = true;
    } else if (!continues(c)) {
      ++count;
    }
  }
  return count;
}

std::string padded(std::string text, std::size_t width) {
  const std::size_t has = columns(text);
  return has < width ? text + std::string(width - has, ' ') : text;
}

std::string right(std::string text, std::size_t width) {
  const std::size_t has = columns(text);
  return has < width ? std::string(width - has, ' ') + text : text;
}

std::string cut(const std::string& text, std::size_t width) {
  if (columns(text) <= width) return text;
  std::string kept;
  std::size_t count = 0;
  bool in_sequence = false;
  for (const char c : text) {
    if (!in_sequence && c != kEscape && !continues(c) && ++count >= width) break;
    if (c == kEscape) in_sequence = true;
    kept += c;
    if (in_sequence && c == 'm') in_sequence = false;
  }
  const bool has_ink = kept.find(kEscape) != std::string::npos;
  return kept + (has_ink ? "\x1b[0m~" : "~");
}

std::string unbroken(std::string text) {
  std::replace(text.begin(), text.end(), ' ', kHardSpace);
  return text;
}

std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string_view word = text.substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    if (!line.empty() && columns(line) + 1 + columns(word) > width) {
      lines.push_back(std::move(line));
      line.clear();
    }
    line += (line.empty() ? "" : " ") + std::string(word);
  }
  if (!line.empty() || lines.empty()) lines.push_back(std::move(line));
  for (std::string& l : lines) std::replace(l.begin(), l.end(), kHardSpace, ' ');
  return lines;
}

std::string beside(const std::string& head, std::string_view text, Ink ink, const Look& look) {
  const std::size_t indent = columns(head);
  const auto width = static_cast<std::size_t>(look.width);
  const bool fits = width >= indent + kBesideLeast;
  const std::string margin(fits ? indent : 2, ' ');
  std::string out = fits ? "" : head + "\n";
  bool first = fits;
  for (const std::string& line :
       wrapped(text, std::max(width, margin.size() + kBesideLeast) - margin.size())) {
    out += (first ? head : margin) + inked(line, ink, look) + "\n";
    first = false;
  }
  return out;
}

std::string clean(std::string_view text, const Look& look) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    const auto next = i + 1 < text.size() ? static_cast<unsigned char>(text[i + 1]) : 0u;
    if (byte < 0x20 || byte == 0x7f) {
      out += ' ';
    } else if (byte == 0xC2 && next < 0xA0) {
      out += ' ';  // U+0080..U+009F
      ++i;
    } else if (byte < 0x80 || look.utf8) {
      out += text[i];
    } else if (!continues(text[i])) {
      out += '?';
    }
  }
  return out;
}

std::string shortly(double seconds) {
  struct Unit {
    double size;
    const char* name;
  };
  constexpr std::array<Unit, 3> units = {{{86400, "d"}, {3600, "h"}, {60, "m"}}};
  for (const Unit& unit : units) {
    if (seconds >= unit.size)
      return fmt::format("{:.0f}{}", std::floor(seconds / unit.size), unit.name);
  }
  return fmt::format("{:.0f}s", std::floor(std::max(0.0, seconds)));
}

std::string local_time(const std::string& text, const Look& look, bool with_year) {
  const auto wall = parse_rfc3339(text);
  if (!wall) return clean(text, look);
  const auto there =
      wall->time_since_epoch() + duration_cast<milliseconds>(look.east_of_utc(*wall));
  const auto day = std::chrono::floor<std::chrono::days>(there);
  const std::chrono::year_month_day date{std::chrono::sys_days(day)};
  const auto clock = std::chrono::floor<seconds>(there - day);
  constexpr std::array<const char*, 12> months = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                  "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const std::string year = with_year ? fmt::format(" {}", static_cast<int>(date.year())) : "";
  return fmt::format("{:2d} {}{} {:02d}:{:02d}:{:02d}", static_cast<unsigned>(date.day()),
                     months.at(static_cast<unsigned>(date.month()) - 1), year, clock.count() / 3600,
                     clock.count() / 60 % 60, clock.count() % 60);
}

std::string time_of_day(const std::string& local) {
  return local.size() > 8 ? local.substr(local.size() - 8) : local;
}
std::string day_of(const std::string& local) {
  return local.size() > 9 ? local.substr(0, local.size() - 9) : "";
}

}  // namespace tubwarden::cli
