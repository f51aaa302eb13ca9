#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

std::string level_word(const Json& row) {
  const double level = number(row, "level_pct").value_or(0);
  return level <= 0 ? "rests" : level >= 100 ? "runs" : trimmed(level, 1) + " %";
}

Ink ink_of_level(const Json& row) {
  return number(row, "level_pct").value_or(0) > 0 ? Ink::strong : Ink::plain;
}

std::size_t id_width(const Json& rows, const Look& look) {
  std::size_t width = 0;
  for (const Json& row : rows) width = std::max(width, columns(clean(text(row, "id"), look)));
  return std::min<std::size_t>(width, 16);
}

std::string decision_row(const Json& row, const std::string& time, std::size_t width,
                         const Look& look) {
  const std::string id = padded(cut(clean(text(row, "id"), look), width), width);
  std::string told = clean(text(row, "why"), look);
  if (!yes(row, "clock_set")) told += " (the clock was not set yet)";
  const std::string head =
      time + "  " + inked(id, ink_of_level(row), look) + "  " + padded(level_word(row), 5) + "  ";
  return beside(head, told, Ink::plain, look);
}

std::string air_row(const Json& air, bool named, const Look& look) {
  const std::string unit = text(air, "unit");
  std::string word = clean(text(air, "word"), look);
  if (named) word += " (" + clean(text(air, "sensor"), look) + ")";
  return fmt::format(
      "  {} {:>8.{}f} {}  {}\n", padded(word, 24), number(air, "value").value_or(0),
      unit == "ppm" ? 0 : 1, clean(unit, look),
      inked(shortly(number(air, "age_s").value_or(0)) + " before", Ink::faint, look));
}

}  // namespace

Shown show_decisions(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "rows");
  if (!answer.ok()) return answer.error();
  const Json& rows = list(*answer, "rows");
  if (rows.empty()) return std::string("No decision is kept of it yet.\n");
  const std::size_t width = id_width(rows, look);
  std::string page, day;
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    const std::string local = local_time(text(*row, "at"), look, true);
    if (day_of(local) != day) {
      page += (day.empty() ? "" : "\n") + inked(day_of(local), Ink::faint, look) + "\n";
      day = day_of(local);
    }
    page += decision_row(*row, time_of_day(local), width, look);
  }
  return page;
}

Shown show_why_at(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "lines");
  if (!answer.ok()) return answer.error();
  const std::string tub = clean(text(*answer, "tub"), look);
  const std::string chamber = clean(text(*answer, "chamber"), look);
  const std::string phase = clean(text(*answer, "phase"), look);
  const std::string at = local_time(text(*answer, "at"), look, true);
  std::string told =
      fmt::format("{} in {}, batch {}, ", at, chamber == tub ? "its own air" : chamber,
                  clean(text(*answer, "batch"), look));
  told += phase.empty() ? "no phase was confirmed"
                        : fmt::format("phase {} since {}", phase,
                                      local_time(text(*answer, "phase_since"), look));
  std::string page = beside(inked(tub, Ink::strong, look) + "  ", told, Ink::plain, look);

  const Json& air = list(*answer, "air");
  for (const Json& reading : air) {
    const auto same = std::count_if(air.begin(), air.end(), [&](const Json& other) {
      return text(other, "word") == text(reading, "word");
    });
    page += air_row(reading, same > 1, look);
  }
  if (air.empty()) page += "  nothing was read in the ten minutes before\n";

  const Json& lines = list(*answer, "lines");
  const std::size_t width = id_width(lines, look);
  const std::string day = day_of(at);
  if (!lines.empty()) page += "\n";
  for (const Json& line : lines) {
    const std::string local = local_time(text(line, "at"), look, true);
    const bool same_day = day_of(local) == day;
    page += decision_row(line, same_day ? "since " + time_of_day(local) : "since " + local, width,
                         look);
  }
  if (lines.empty()) page += "\nNo decision of it is kept from before that.\n";
  return page;
}

}  // namespace tubwarden::cli
