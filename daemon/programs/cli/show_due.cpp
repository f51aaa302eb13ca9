// What is due, and where something came from.
#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

std::string task_row(const Json& task, const Look& look) {
  const bool late = yes(task, "late");
  const std::string head = inked(late ? "late  " : "due   ", late ? Ink::warn : Ink::plain, look);
  std::string told = clean(text(task, "text"), look);
  const std::string batch = clean(text(task, "batch"), look);
  if (!batch.empty()) told += "; batch " + batch;
  const std::string due = day_of(local_time(text(task, "due"), look));
  if (!due.empty()) told += ", since " + due.substr(due.find_first_not_of(' '));
  std::string row = beside(head, told, Ink::plain, look);
  const std::string command = clean(text(task, "command"), look);
  return command.empty() ? row : row + beside("      ", command, Ink::faint, look);
}

/// Which jars share something with a contaminated one.
std::string sibling_rows(const Json& answer, const Look& look) {
  std::string page;
  for (const Json& group : list(answer, "siblings")) {
    const bool others = number(group, "contaminated").value_or(0) > 1;
    page += beside("  ", clean(text(group, "text"), look), others ? Ink::warn : Ink::plain, look);
  }
  return page.empty() ? "" : inked("who shares something with it", Ink::faint, look) + "\n" + page;
}

std::string trace_row(const Json& line, const std::string& time, const Look& look) {
  const double entry = number(line, "entry").value_or(0);
  const std::string head =
      fmt::format("{:>6}  {}  ", entry > 0 ? fmt::format("{:.0f}", entry) : "", time);
  std::string told = clean(text(line, "text"), look);
  if (const std::string note = clean(text(line, "note"), look); !note.empty()) {
    told += "; " + note;
  }
  return beside(head, told, text(line, "side") == "itself" ? Ink::strong : Ink::plain, look);
}

}  // namespace

Shown show_contaminated(const std::string& json, const Look& look) {
  const auto done = show_done(json, look);
  if (!done.ok()) return done;
  const auto answer = parsed(json, "text");
  std::string page = *done;
  int number_of = 0;
  for (const Json& advice : list(*answer, "advice")) {
    if (!advice.is_string()) continue;
    page += beside(fmt::format("{:>3}. ", ++number_of), clean(advice.get<std::string>(), look),
                   Ink::plain, look);
  }
  return page + "\n" + sibling_rows(*answer, look);
}

Shown show_today(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "tasks");
  if (!answer.ok()) return answer.error();
  const Json& tasks = list(*answer, "tasks");
  if (tasks.empty()) return std::string("Nothing is due today.\n");
  std::size_t late = 0;
  for (const Json& task : tasks) late += yes(task, "late");
  const std::string lead =
      counted(static_cast<double>(tasks.size()), "thing is due", "things are due") +
      (late == 0            ? ""
       : tasks.size() == 1U ? ", and late"
                            : fmt::format(", {} of them late", late));
  std::string page = inked(lead, late > 0 ? Ink::warn : Ink::strong, look) + "\n\n";
  for (const Json& task : tasks) page += task_row(task, look);
  return page;
}

Shown show_trace(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "lines");
  if (!answer.ok()) return answer.error();
  const std::string kind = clean(text(*answer, "kind"), look);
  std::string page = inked((kind.empty() ? "" : kind + " ") + clean(text(*answer, "of"), look),
                           Ink::strong, look) +
                     "\n";
  std::string day;
  for (const Json& line : list(*answer, "lines")) {
    const std::string local = local_time(text(line, "at"), look, true);
    if (day_of(local) != day) {
      day = day_of(local);
      page += "\n" + inked(day, Ink::faint, look) + "\n";
    }
    page += trace_row(line, time_of_day(local).substr(0, 5), look);
  }
  const std::string siblings = sibling_rows(*answer, look);
  return siblings.empty() ? page : page + "\n" + siblings;
}

}  // namespace tubwarden::cli
