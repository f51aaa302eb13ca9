#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kBookHead = 10;

int pressing(const Json& alert) {
  const std::string rank = text(alert, "rank");
  return rank == "now" ? 0 : rank == "today" ? 1 : 2;
}

Ink ink_of_rank(const std::string& rank) {
  return rank == "now" ? Ink::alarm : rank == "today" ? Ink::warn : Ink::plain;
}

Ink ink_of_kind(const std::string& kind) {
  return kind == "alert"                      ? Ink::warn
         : kind == "phase" || kind == "batch" ? Ink::strong
                                              : Ink::plain;
}

std::string timeline_row(const Json& row, const std::string& time, std::size_t who_width,
                         const Look& look) {
  const std::string who = cut(clean(text(row, "who"), look), who_width);
  const std::string head = fmt::format("{:>6.0f}  {}  {}  ", number(row, "id").value_or(0), time,
                                       padded(who, who_width));
  std::string told = clean(text(row, "text"), look);
  const std::string tub = clean(text(row, "tub"), look);
  if (!tub.empty() && told.find(tub) == std::string::npos) told = tub + ": " + told;
  if (const auto corrects = number(row, "corrects")) {
    told += fmt::format(" (corrects {:.0f})", *corrects);
  }
  if (const std::string done = text(row, "done"); !done.empty()) {
    told += " (done " + local_time(done, look) + ")";
  }
  if (const std::string photo = clean(text(row, "photo"), look); !photo.empty()) {
    told += " [" + photo + "]";
  }
  if (!yes(row, "clock_set")) told += " (the clock was not set yet)";
  if (yes(row, "mended")) told += " (the clock was set later)";
  return beside(head, told, ink_of_kind(text(row, "kind")), look);
}

std::string output_level(const Json& output) {
  const double level = number(output, "level_pct").value_or(0);
  return level <= 0 ? "rests" : level >= 100 ? "runs" : trimmed(level, 1) + " %";
}

std::string health_cell(const std::string& health, const Look& look) {
  const bool unsafe = health == "cannot be made safe";  // told in full below the table
  const Ink ink = is_failed(health) ? Ink::alarm : health == "ready" ? Ink::plain : Ink::warn;
  return inked(unsafe ? "NOT SAFE" : clean(health, look), ink, look);
}

}  // namespace

bool is_failed(const std::string& health) {
  return health == "failed safe" || health == "cannot be made safe";
}

Result<Json> parsed(const std::string& json, const char* must) {
  Json answer = Json::parse(json, nullptr, false);
  if (!answer.is_object() || !answer.contains(must)) {
    return Error{ErrorCode::broken,
                 fmt::format("the daemon's answer has no '{}'; are tubwarden and tubwardend of one "
                             "version? (--json prints what it said)",
                             must)};
  }
  return answer;
}

std::string counted(double count, const char* one, const char* many) {
  return fmt::format("{:.0f} {}", count, count == 1 ? one : many);
}

std::vector<Json> by_rank(const Json& alerts) {
  std::vector<Json> sorted(alerts.begin(), alerts.end());
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const Json& a, const Json& b) { return pressing(a) < pressing(b); });
  return sorted;
}

std::string alert_row(const Json& alert, const Look& look) {
  const std::string rank = text(alert, "rank");
  const std::string place = clean(text(alert, "place"), look);
  std::string told = clean(text(alert, "text"), look);
  if (place != "site" && told.rfind(place, 0) != 0) told = place + ": " + told;
  const std::string head = inked(padded(clean(rank, look), 6), ink_of_rank(rank), look) +
                           right(shortly(number(alert, "since_s").value_or(0)), 4) + "  ";
  return beside(head, told, Ink::plain, look);
}

Shown show_why(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "lines");
  if (!answer.ok()) return answer.error();
  std::size_t width = 0;
  for (const Json& line : list(*answer, "lines")) {
    width = std::max(width, columns(clean(text(line, "id"), look)));
  }
  std::string page;
  for (const Json& line : list(*answer, "lines")) {
    const std::string id = padded(clean(text(line, "id"), look), width);
    page += beside(inked(id, Ink::strong, look) + "  ", clean(text(line, "why"), look), Ink::plain,
                   look);
  }
  if (page.empty()) page = "There is no actuator in this air; nothing is switched.\n";
  return page;
}

std::string host_row(const Json& host, const Look& look) {
  const double pid = number(host, "pid").value_or(0);
  const double restarts = number(host, "restarts").value_or(0);
  std::string told = clean(text(host, "plugin"), look);
  told += pid == 0 ? " has no process now"
                   : fmt::format(", pid {:.0f}, lease left {}", pid,
                                 shortly(number(host, "lease_left_s").value_or(0)));
  if (restarts > 0) told += ", " + counted(restarts, "restart", "restarts");
  std::string held, free;
  for (const Json& limit : list(host, "limits")) {
    const std::string what = clean(text(limit, "what"), look),
                      how = clean(text(limit, "how"), look);
    if (yes(limit, "holds")) {
      held += (held.empty() ? "" : ", ") + what + " " + how;
    } else {
      free += (free.empty() ? "" : ", ") + what + " (" + how + ")";
    }
  }
  if (!held.empty()) told += "; held to: " + held;
  if (!free.empty()) told += "; not held: " + free;
  return beside("driver  ", told, pid == 0 || !free.empty() ? Ink::warn : Ink::faint, look);
}

Shown show_outputs(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "outputs");
  if (!answer.ok()) return answer.error();
  std::vector<std::vector<std::string>> rows = {
      {"air", "output", "plugin", "health", "now", "loan", "died", "pid", "falls"}};
  std::string released;
  for (const Json& o : list(*answer, "outputs")) {
    const std::string health = text(o, "health");
    const std::string falls = text(o, "falls_by_itself");
    rows.push_back({clean(text(o, "chamber"), look), clean(text(o, "id"), look),
                    clean(text(o, "plugin"), look), health_cell(health, look), output_level(o),
                    shortly(number(o, "lease_left_s").value_or(0)),
                    fmt::format("{:.0f}", number(o, "restarts").value_or(0)),
                    fmt::format("{:.0f}", number(o, "pid").value_or(0)),
                    falls.empty() ? "host" : clean(falls, look)});
    if (is_failed(health)) {
      released += beside(
          "  ",
          fmt::format("{} of {} is {}. See why (tubwarden why), put it right, then: "
                      "tubwarden outputs release {} {}",
                      rows.back()[1], rows.back()[0], health, rows.back()[0], rows.back()[1]),
          Ink::plain, look);
    }
  }
  if (rows.size() == 1) return std::string("No output is configured.\n");
  std::vector<std::size_t> widths(rows[0].size(), 0);
  for (const auto& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], columns(row[i]));
  }
  std::string page;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    std::string line;
    for (std::size_t i = 0; i < rows[r].size(); ++i) {
      const std::string cell = rows[r][i];
      line += (i ? "  " : "") + (i + 1 == rows[r].size() ? cell : padded(cell, widths[i]));
    }
    page += (r == 0 ? inked(line, Ink::faint, look) : line) + "\n";
  }
  if (!released.empty()) page += "\n" + released;
  return page;
}

Shown show_batch(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "rows");
  if (!answer.ok()) return answer.error();
  std::size_t who_width = 0;
  for (const Json& row : list(*answer, "rows")) {
    who_width = std::max(who_width, columns(clean(text(row, "who"), look)));
  }
  who_width = std::min<std::size_t>(who_width, 12);
  std::string page =
      inked("batch " + clean(text(*answer, "batch"), look), Ink::strong, look) + "\n";
  std::string day;
  for (const Json& row : list(*answer, "rows")) {
    const std::string local = local_time(text(row, "at"), look, true);
    if (day_of(local) != day) {
      day = day_of(local);
      page += "\n" + inked(day, Ink::faint, look) + "\n";
    }
    page += timeline_row(row, time_of_day(local), who_width, look);
  }
  return page;
}

Shown show_batches(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "rows");
  if (!answer.ok()) return answer.error();
  std::string page;
  for (const Json& row : list(*answer, "rows")) {
    page += beside(padded(clean(text(row, "batch"), look), 10) + "  " +
                       local_time(text(row, "at"), look, true) + "  ",
                   clean(text(row, "text"), look), Ink::plain, look);
  }
  if (page.empty()) {
    page = "No batch yet; `tubwarden phase TUB PHASE` opens the one named in the tub's file.\n";
  }
  return page;
}

Shown show_done(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "text");
  if (!answer.ok()) return answer.error();
  std::string told = clean(text(*answer, "text"), look);
  if (const std::string done = local_time(text(*answer, "done"), look, true); !done.empty()) {
    told += ", done " + done.substr(done.find_first_not_of(' '));
  }
  const Json& entries = list(*answer, "entries");
  const auto entry = number(*answer, "entry");
  if (entries.size() > 1) {
    told +=
        fmt::format(" (entries {:.0f} to {:.0f})", at(entries, 0).value_or(0), entry.value_or(0));
  } else if (entry && *entry > 0) {
    told += fmt::format(" (entry {:.0f})", *entry);
  }
  return told + "\n";
}

Shown show_book(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "casings");
  if (!answer.ok()) return answer.error();
  const std::string tub = clean(text(*answer, "tub"), look);
  std::string page;
  const auto line = [&](const std::string& head, const std::string& told) {
    if (!told.empty()) page += beside(padded(head, kBookHead), clean(told, look), Ink::plain, look);
  };
  for (const Json& casing : list(*answer, "casings")) {
    if (clean(text(casing, "tub"), look) != tub) continue;
    line(tub, text(casing, "text"));
    std::string parts;
    const std::pair<const char*, const char*> kParts[] = {
        {"fan_g", "{:.0f} g left with the fan's air"},
        {"leak_g", "{:.0f} g by the lid's leak"},
        {"dried_g", "{:.0f} g by a dryer"},
        {"mist_g", "{:.0f} g came as mist"}};
    for (const auto& [name, words] : kParts) {
      const auto grams = number(casing, name);
      if (!grams || *grams == 0.0) continue;
      parts += (parts.empty() ? "" : ", ") + fmt::format(fmt::runtime(words), *grams);
    }
    line("", parts);
  }
  if (page.empty()) line(tub, "no casing lies in it: its account begins with the phase casing");
  for (const Json& tank : list(*answer, "tanks")) line("tank", text(tank, "text"));
  line("day", text(member(*answer, "day"), "text"));
  return page;
}

Shown show_raw(const std::string& json) {
  const Json answer = Json::parse(json, nullptr, false);
  if (answer.is_discarded()) return Error{ErrorCode::broken, "the daemon's answer is no JSON"};
  return answer.dump(2) + "\n";
}

}  // namespace tubwarden::cli
