#include "shell/warden/alert_words.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

/// A message names no more of what it sums up.
constexpr std::size_t kSummedUpMax = 12;

std::string title_of(const Alert& alert) {
  return fmt::format("{}: {}", alert.key.place, in_words(alert.key.cause));
}

std::string counted_alerts(std::size_t n) {
  return fmt::format("{} alert{}", n, n == 1 ? "" : "s");
}

std::string summary_title(Telling::Kind kind, std::size_t n, const std::string& who) {
  switch (kind) {
    case Telling::Kind::flood:
      return fmt::format("{} more, told in one: many come at once", counted_alerts(n));
    case Telling::Kind::morning:
      return fmt::format("{} of the quiet hours", counted_alerts(n));
    case Telling::Kind::again:
    case Telling::Kind::second:
      return fmt::format("{} that nobody has seen", counted_alerts(n));
    case Telling::Kind::seen:
      return fmt::format("seen by {}: {}", who, counted_alerts(n));
    case Telling::Kind::raised:
    case Telling::Kind::over:
      break;
  }
  return counted_alerts(n);
}

/// What was said of an alert, what it means and how long one has, each on a line of its own.
std::string whole_text(const Alert& alert) {
  const CauseWords words = words_for(alert.key.cause);
  std::string text = alert.text;
  if (!words.text_says_steps) text += fmt::format("\nDo: {}", words.steps);
  return text + fmt::format("\n{}\nTime: {}", words.means, words.have);
}

}  // namespace

std::string in_words(std::string cause) {
  std::replace(cause.begin(), cause.end(), '_', ' ');
  return cause;
}

std::string since_when(const Clock& clock, Instant since, bool over) {
  const Duration stood = clock.now() - since;
  const std::string lasted = over ? fmt::format("It lasted {}.", spoken(stood)) : "";
  if (stood >= days(1) || !clock.wall_is_set()) {
    return over ? lasted : fmt::format("For {} now.", spoken(stood));
  }
  const auto ago = static_cast<int>(duration_cast<seconds>(stood).count());
  const int minute = (clock.local_second_of_day() - ago + 86400) % 86400 / 60;
  return fmt::format("{} {:02}:{:02}.{}{}", over ? "It began at" : "Since", minute / 60,
                     minute % 60, over ? " " : "", lasted);
}

CauseWords words_for(std::string_view cause) {
  if (const CauseRow* row = cause_row(cause)) {
    return {row->means, row->steps, row->have, row->text_says_steps};
  }
  return {"Something is not as it should be.", "Do what its text says; then: tubwarden status",
          "See to it today.", true};
}

Notice Warden::State::words_of(const Telling& telling, const std::string& who) const {
  Notice notice;
  notice.key = telling.key;
  notice.rank = telling.rank;
  const std::string where = site ? site->site : std::string();
  const bool many = telling.alerts.size() > 1 || telling.kind == Telling::Kind::flood ||
                    telling.kind == Telling::Kind::morning;
  if (telling.kind == Telling::Kind::seen) notice.state = NoticeState::seen;
  if (telling.kind == Telling::Kind::over) notice.state = NoticeState::over;
  if (many) {
    notice.title =
        fmt::format("{}: {}", where, summary_title(telling.kind, telling.alerts.size(), who));
    std::size_t shown = 0;
    for (const Alert& alert : telling.alerts) {
      if (shown++ == kSummedUpMax) break;
      const DeskAlert* a = desk.find(alert.key);
      notice.text += fmt::format("{}  {}{}\n", name_of(alert.rank), title_of(alert),
                                 a && a->active ? "" : ", over by now");
    }
    if (telling.alerts.size() > kSummedUpMax) {
      notice.text += fmt::format("and {} more\n", telling.alerts.size() - kSummedUpMax);
    }
    notice.text += "The list: tubwarden alerts";
    return notice;
  }
  const Alert& alert = telling.alerts.front();
  const DeskAlert* a = desk.find(alert.key);
  const bool over = telling.kind == Telling::Kind::over || !a || !a->active;
  notice.title = title_of(alert);
  notice.text = over ? alert.text : whole_text(alert);
  switch (telling.kind) {
    case Telling::Kind::over:
      notice.title = "over: " + notice.title;
      break;
    case Telling::Kind::seen:
      notice.title = fmt::format("seen by {}: {}", who, notice.title);
      notice.text = alert.text;
      break;
    case Telling::Kind::again:
    case Telling::Kind::second:
      notice.title = "still: " + notice.title;
      notice.text +=
          fmt::format("\nNobody has seen it yet: tubwarden alerts seen {}", a ? a->number : 0);
      break;
    case Telling::Kind::raised:
    case Telling::Kind::flood:
    case Telling::Kind::morning:
      if (over) notice.text += "\nIt is over by now.";
      break;
  }
  notice.text += "\n" + since_when(parts.clock, alert.since, over);
  return notice;
}

}  // namespace tubwarden
