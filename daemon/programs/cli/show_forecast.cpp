// What is foreseen of jars and of the first pick.
#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

/// "9 Mar".
std::string on_day(const std::string& time, const Look& look) {
  const std::string day = day_of(local_time(time, look));
  const std::size_t begins = day.find_first_not_of(' ');
  return begins == std::string::npos ? "?" : day.substr(begins);
}

/// "12 Mar (10 Mar to 15 Mar)".
std::string span_told(const Json& span, const Look& look) {
  return fmt::format("{} ({} to {})", on_day(text(span, "likely"), look),
                     on_day(text(span, "early"), look), on_day(text(span, "late"), look));
}

/// "2.1 days later than told, within its interval".
std::string error_told(const Json& error) {
  const double off_h = number(error, "off_h").value_or(0.0);
  const double size = std::abs(off_h);
  const std::string amount =
      size >= 48.0 ? trimmed(size / 24.0, 1) + " days" : fmt::format("{:.0f} hours", size);
  return fmt::format("{} {} than told, {} its interval", amount, off_h >= 0 ? "later" : "earlier",
                     yes(error, "within") ? "within" : "outside");
}

std::string foreseen_fact(const char* name, const std::string& told, Ink ink, const Look& look) {
  return beside("  " + padded(name, 15), told, ink, look);
}

std::string temperature_told(const Json& row) {
  return fmt::format("known for {:.0f} % of the time until now; {} C from now on",
                     number(row, "temperature_known_pct").value_or(0.0),
                     trimmed(number(row, "ahead_c").value_or(0.0), 1));
}

std::string foreseen_jar(const Json& row, const Look& look) {
  std::string head = inked(clean(text(row, "jar"), look), Ink::strong, look);
  if (const std::string batch = clean(text(row, "batch"), look); !batch.empty()) {
    head += ", batch " + batch;
  }
  if (const std::string missing = clean(text(row, "missing"), look); !missing.empty()) {
    return beside(head + "  ", "nothing to foresee: " + missing, Ink::plain, look);
  }
  std::string page = beside(head + "  ", clean(text(row, "basis_text"), look), Ink::faint, look);
  if (member(row, "shake_from").is_object() && member(row, "shake_to").is_object()) {
    const std::string shaken = text(row, "shaken");
    std::string told =
        fmt::format("20 % on {}, 30 % on {}", span_told(member(row, "shake_from"), look),
                    span_told(member(row, "shake_to"), look));
    if (!shaken.empty()) told += "; shaken on " + on_day(shaken, look);
    page += foreseen_fact("to be shaken", told, Ink::plain, look);
  }
  const std::string seen = text(row, "seen_full");
  if (!seen.empty()) {
    page += foreseen_fact("grown through", "seen on " + on_day(seen, look), Ink::strong, look);
    const Json& error = member(row, "error");
    if (error.is_object()) {
      page += foreseen_fact(
          "as foreseen",
          fmt::format("{}; told on {}: {}", error_told(error), on_day(text(error, "told_at"), look),
                      span_told(member(error, "told"), look)),
          Ink::plain, look);
    }
  } else {
    const Json& full = member(row, "full");
    const bool fitted = text(row, "basis") == "looks";
    page += foreseen_fact("grown through",
                          fitted ? span_told(full, look) + " in 8 of 10 such jars"
                                 : fmt::format("{} to {}", on_day(text(full, "early"), look),
                                               on_day(text(full, "late"), look)),
                          Ink::strong, look);
  }
  if (!text(row, "mixed").empty()) {
    page += foreseen_fact("mixed", "on " + on_day(text(row, "mixed"), look), Ink::plain, look);
  }
  return page + foreseen_fact("temperature", temperature_told(row), Ink::faint, look);
}

std::string foreseen_bed(const Json& row, const Look& look) {
  const std::string head = inked(clean(text(row, "tub"), look), Ink::strong, look) + ", batch " +
                           clean(text(row, "batch"), look);
  if (const std::string missing = clean(text(row, "missing"), look); !missing.empty()) {
    return beside(head + "  ", "nothing to foresee: " + missing, Ink::plain, look);
  }
  std::string page =
      beside(head + fmt::format(", flush {:.0f}  ", number(row, "flush").value_or(1.0)),
             clean(text(row, "basis_text"), look), Ink::faint, look);
  const std::string evening = on_day(text(row, "evening"), look);
  const std::string early = on_day(text(row, "evening_early"), look);
  const std::string late = on_day(text(row, "evening_late"), look);
  const std::string first = text(row, "first_pick");
  page += foreseen_fact(
      "first pick",
      fmt::format("{} evening of {}{}", first.empty() ? "the" : "was told for the", evening,
                  early == late ? "" : fmt::format(" ({} to {})", early, late)),
      Ink::strong, look);
  if (first.empty()) {
    page += foreseen_fact(
        "now",
        fmt::format("the largest some {} mm", trimmed(number(row, "size_now_mm").value_or(0.0), 0)),
        Ink::plain, look);
    return page;
  }
  return page + foreseen_fact("picked",
                              fmt::format("on {}; {}", local_time(first, look),
                                          error_told(member(row, "error"))),
                              Ink::plain, look);
}

}  // namespace

Shown show_forecast(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "jars");
  if (!answer.ok()) return answer.error();
  std::string page;
  const auto add = [&](const std::string& rows) { page += (page.empty() ? "" : "\n") + rows; };
  for (const Json& row : list(*answer, "jars")) add(foreseen_jar(row, look));
  for (const Json& row : list(*answer, "tubs")) add(foreseen_bed(row, look));
  const double more = number(*answer, "jars_more").value_or(0.0);
  if (more > 0) {
    add(counted(more, "jar more", "jars more") + "; ask for each by its name\n");
  }
  if (page.empty()) page = "No jar of it stands inoculated, and no pins are noted.\n";
  return page;
}

}  // namespace tubwarden::cli
