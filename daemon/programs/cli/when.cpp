#include "programs/cli/when.hpp"

#include <fmt/format.h>

#include <optional>

#include "base/text.hpp"
#include "settings/amount.hpp"

namespace tubwarden::cli {
namespace {

constexpr const char* kAllowed =
    "allowed are HH:MM, 'YYYY-MM-DD HH:MM', RFC 3339 (2026-11-25T10:00:00Z), an age like 2h or 1d, "
    "and now";

/// A reader's date and time, without a zone.
struct Civil {
  std::chrono::year_month_day day{};
  seconds of_day{0};
};

/// `digits` digits at the front, which are taken away; nothing where there are others.
std::optional<int> take_number(std::string_view& text, std::size_t digits) {
  if (text.size() < digits) return std::nullopt;
  int value = 0;
  for (const char c : text.substr(0, digits)) {
    if (c < '0' || c > '9') return std::nullopt;
    value = value * 10 + (c - '0');
  }
  text.remove_prefix(digits);
  return value;
}

bool take(std::string_view& text, char c) {
  if (text.empty() || text.front() != c) return false;
  text.remove_prefix(1);
  return true;
}

/// "HH:MM" or "HH:MM:SS", whole.
std::optional<seconds> time_of_day(std::string_view text) {
  const auto hour = take_number(text, 2);
  if (!hour || *hour > 23 || !take(text, ':')) return std::nullopt;
  const auto minute = take_number(text, 2);
  if (!minute || *minute > 59) return std::nullopt;
  std::optional<int> second = 0;
  if (take(text, ':')) second = take_number(text, 2);
  if (!second || *second > 59 || !text.empty()) return std::nullopt;
  return hours(*hour) + minutes(*minute) + seconds(*second);
}

/// "YYYY-MM-DD", alone (midnight) or with a time of day behind a blank or a T.
std::optional<Civil> date_and_time(std::string_view text) {
  const auto year = take_number(text, 4);
  if (!year || !take(text, '-')) return std::nullopt;
  const auto month = take_number(text, 2);
  if (!month || !take(text, '-')) return std::nullopt;
  const auto day = take_number(text, 2);
  if (!day) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(*year),
                                         std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  if (!date.ok()) return std::nullopt;
  if (text.empty()) return Civil{date, seconds(0)};
  if (!take(text, ' ') && !take(text, 'T')) return std::nullopt;
  const auto time = time_of_day(text);
  if (!time) return std::nullopt;
  return Civil{date, *time};
}

std::string clock_words(const Civil& civil) {
  const auto s = civil.of_day.count();
  return fmt::format("{:02d}:{:02d}", s / 3600, s / 60 % 60);
}
std::string date_words(const Civil& civil) {
  return fmt::format("{:04d}-{:02d}-{:02d}", static_cast<int>(civil.day.year()),
                     static_cast<unsigned>(civil.day.month()),
                     static_cast<unsigned>(civil.day.day()));
}

/// The moment at which the reader's clock shows this. It may have shown it twice, or never.
Result<When> moment_of(const Civil& civil, Zone zone) {
  const auto shown = std::chrono::sys_days(civil.day).time_since_epoch() + civil.of_day;
  const auto with = [&](Duration offset) {
    return WallTime(duration_cast<milliseconds>(shown) - duration_cast<milliseconds>(offset));
  };
  const WallTime there{duration_cast<milliseconds>(shown)};
  const Duration before = zone(there - hours(24)), after = zone(there + hours(24));
  const WallTime first = with(before), second = with(after);
  const bool is_first = zone(first) == before, is_second = zone(second) == after;
  if (!is_first && !is_second) {
    return Error{
        ErrorCode::bad_input,
        fmt::format("{} was skipped on {}, when the clocks went forward; name another time",
                    clock_words(civil), date_words(civil))};
  }
  When when{is_first ? first : second, ""};
  if (is_first && is_second && first != second) {
    when.note = fmt::format(
        "{} came twice on {}, when the clocks went back; the first is taken, the second is {}",
        clock_words(civil), date_words(civil), rfc3339(second));
  }
  return when;
}

Result<When> last_time_it_was(seconds of_day, WallTime now, Zone zone) {
  const auto local = now.time_since_epoch() + duration_cast<milliseconds>(zone(now));
  const auto today = std::chrono::floor<std::chrono::days>(local);
  const Civil civil{std::chrono::year_month_day(std::chrono::sys_days(today)), of_day};
  Result<When> when = moment_of(civil, zone);
  if (!when.ok() || when->at <= now) return when;
  const auto yesterday = std::chrono::sys_days(today) - std::chrono::days(1);
  return moment_of({std::chrono::year_month_day(yesterday), of_day}, zone);
}

}  // namespace

Result<When> parse_when(std::string_view text, WallTime now, Zone zone) {
  if (text == "now") return When{now, ""};
  if (const auto wall = parse_rfc3339(text)) return When{*wall, ""};
  if (const auto time = time_of_day(text)) return last_time_it_was(*time, now, zone);
  if (const auto civil = date_and_time(text)) return moment_of(*civil, zone);
  if (const auto age = parse_duration(text); age.ok()) {
    return When{now - duration_cast<milliseconds>(*age), ""};
  }
  return Error{ErrorCode::bad_input, fmt::format("'{}' is no time; {}", text, kAllowed)};
}

}  // namespace tubwarden::cli
