#include "base/text.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <vector>

namespace tubwarden {
namespace {

using SysDays = std::chrono::sys_days;

struct Digits {
  std::string_view text;
  std::size_t at = 0;

  /// Exactly `count` digits as a number, or nothing.
  std::optional<int> number(std::size_t count) {
    if (at + count > text.size()) return std::nullopt;
    int value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const char c = text[at + i];
      if (c < '0' || c > '9') return std::nullopt;
      value = value * 10 + (c - '0');
    }
    at += count;
    return value;
  }
  bool skip(std::string_view allowed) {
    if (at >= text.size() || allowed.find(text[at]) == std::string_view::npos) return false;
    ++at;
    return true;
  }
};

/// The offset behind a time, in minutes east of UTC.
std::optional<int> offset_minutes(Digits& d) {
  if (d.skip("Zz")) return 0;
  if (d.at >= d.text.size()) return std::nullopt;
  const char sign = d.text[d.at];
  if (!d.skip("+-")) return std::nullopt;
  const auto hour = d.number(2);
  if (!hour || !d.skip(":")) return std::nullopt;
  const auto minute = d.number(2);
  if (!minute || *hour > 23 || *minute > 59) return std::nullopt;
  return (sign == '-' ? -1 : 1) * (*hour * 60 + *minute);
}

int fraction_ms(Digits& d) {
  int ms = 0, scale = 100;
  while (const auto digit = d.number(1)) {
    ms += *digit * scale;
    scale /= 10;
  }
  return ms;
}

char lower(char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); }

/// Levenshtein's distance, case ignored.
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      const std::size_t change = diagonal + (lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1);
      row[j] = std::min({above + 1, row[j - 1] + 1, change});
      diagonal = above;
    }
  }
  return row[b.size()];
}

}  // namespace

std::string rfc3339(WallTime t) {
  const auto ms = t.time_since_epoch();
  const auto day = std::chrono::floor<std::chrono::days>(ms);
  const std::chrono::year_month_day date{SysDays(day)};
  const std::chrono::hh_mm_ss<milliseconds> time{ms - day};
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%04d-%02u-%02uT%02d:%02d:%02d.%03dZ",
                static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                static_cast<unsigned>(date.day()), static_cast<int>(time.hours().count()),
                static_cast<int>(time.minutes().count()), static_cast<int>(time.seconds().count()),
                static_cast<int>(time.subseconds().count()));
  return text.data();
}

std::optional<WallTime> parse_rfc3339(std::string_view text) {
  Digits d{text};
  const auto year = d.number(4);
  if (!year || !d.skip("-")) return std::nullopt;
  const auto month = d.number(2);
  if (!month || !d.skip("-")) return std::nullopt;
  const auto day = d.number(2);
  if (!day || !d.skip("Tt ")) return std::nullopt;
  const auto hour = d.number(2);
  if (!hour || !d.skip(":")) return std::nullopt;
  const auto minute = d.number(2);
  if (!minute || !d.skip(":")) return std::nullopt;
  const auto second = d.number(2);
  if (!second || *hour > 23 || *minute > 59 || *second > 60) return std::nullopt;
  const int ms = d.skip(".") ? fraction_ms(d) : 0;
  const auto offset = offset_minutes(d);
  if (!offset || d.at != text.size()) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(*year),
                                         std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  if (!date.ok()) return std::nullopt;
  return WallTime(SysDays(date).time_since_epoch() + hours(*hour) + minutes(*minute - *offset) +
                  seconds(*second) + milliseconds(ms));
}

std::string spoken(Duration d) {
  if (d < Duration{0}) return "-" + spoken(-d);
  if (d < seconds(1)) return std::to_string(duration_cast<milliseconds>(d).count()) + "ms";
  struct Unit {
    Duration size;
    const char* name;
  };
  constexpr std::array<Unit, 4> units = {
      {{days(1), "d"}, {hours(1), "h"}, {minutes(1), "m"}, {seconds(1), "s"}}};
  std::string text;
  int said = 0;
  for (const Unit& unit : units) {
    const auto count = d / unit.size;
    d -= count * unit.size;
    if (count == 0 && said == 0) continue;
    if (count > 0) text += (text.empty() ? "" : " ") + std::to_string(count) + unit.name;
    if (++said == 2) break;
  }
  return text;
}

std::optional<std::string> nearest(std::string_view word, std::span<const std::string_view> known) {
  const std::size_t allowed = std::clamp<std::size_t>(word.size() / 3, 1, 3);
  std::size_t best = allowed + 1;
  std::optional<std::string> found;
  for (std::string_view candidate : known) {
    const std::size_t d = distance(word, candidate);
    if (d < best) {
      best = d;
      found = std::string(candidate);
    }
  }
  return found;
}

std::string trimmed(double value, int digits) {
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "%.*f", digits, value);
  std::string result = text.data();
  if (result.find('.') != std::string::npos) {
    result.erase(result.find_last_not_of('0') + 1);
    if (result.back() == '.') result.pop_back();
  }
  return result == "-0" ? "0" : result;
}

}  // namespace tubwarden
