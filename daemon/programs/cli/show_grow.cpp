// Cultures and jars as a grower reads them.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kGaugeWidth = 10;
constexpr std::size_t kIdMost = 16;

/// "25 Nov": the day of a time, without its year.
std::string short_day(const std::string& at, const Look& look) {
  const std::string day = day_of(local_time(at, look));
  const std::size_t begin = day.find_first_not_of(' ');
  return begin == std::string::npos ? "" : day.substr(begin);
}

std::size_t id_column(const Json& rows, const Look& look) {
  std::size_t width = 3;
  for (const Json& row : rows) width = std::max(width, columns(clean(text(row, "id"), look)));
  return std::min(width, kIdMost);
}

std::string level_bar(double share, const Look& look) {
  const auto full = static_cast<std::size_t>(
      std::lround(std::clamp(share, 0.0, 1.0) * static_cast<double>(kGaugeWidth)));
  std::string bar;
  for (std::size_t i = 0; i < kGaugeWidth; ++i) {
    bar += i < full ? (look.utf8 ? "█" : "#") : (look.utf8 ? "·" : ".");
  }
  return bar;
}

void join_to(std::string& text, const std::string& part) {
  if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
}

/// How a jar that no longer stands ended.
std::string end_of(const Json& jar, const Look& look) {
  const std::string fate = text(jar, "fate");
  const std::string day = short_day(text(jar, "fate_at"), look);
  std::string told =
      fate == "mixed" ? "mixed into " + clean(text(jar, "into_tub"), look) : clean(fate, look);
  if (!day.empty()) told += " " + day;
  const std::string why = clean(text(jar, "fate_text"), look);
  return why.empty() ? told : told + ": " + why;
}

Ink ink_of_fate(const std::string& fate) {
  return fate == "contaminated" ? Ink::alarm : fate == "standing" ? Ink::plain : Ink::faint;
}

std::string jar_words(const Json& jar, const Look& look) {
  std::string told;
  if (text(jar, "fate") != "standing") join_to(told, end_of(jar, look));
  join_to(told, clean(text(jar, "grain"), look));
  const std::string culture = clean(text(jar, "culture"), look);
  join_to(told, culture.empty()
                    ? "not inoculated"
                    : culture + " " + trimmed(number(jar, "dose_ml").value_or(0)) + " mL");
  if (text(jar, "lid") == "closed") join_to(told, "lid closed");
  if (const std::string shelf = clean(text(jar, "shelf"), look); !shelf.empty()) {
    join_to(told, "on " + shelf);
  }
  if (const std::string shaken = short_day(text(jar, "shaken"), look); !shaken.empty()) {
    join_to(told, "shaken " + shaken);
  }
  return told;
}

std::string jar_row(const Json& jar, std::size_t width, const Look& look) {
  const Ink ink = ink_of_fate(text(jar, "fate"));
  const auto grown = number(jar, "grown_pct");
  const auto day = number(jar, "days");
  std::string head = inked(padded(cut(clean(text(jar, "id"), look), width), width),
                           ink == Ink::plain ? Ink::strong : ink, look);
  head += "  " + level_bar(grown.value_or(0) / 100.0, look);
  head += right(grown ? fmt::format("{:.0f} %", *grown) : "unseen", 7);
  head += right(day ? fmt::format("day {:.0f}", *day) : "", 8) + "  ";
  return beside(head, jar_words(jar, look), ink == Ink::alarm ? Ink::alarm : Ink::plain, look);
}

std::string jar_rows(const Json& jars, const Look& look) {
  const std::size_t width = id_column(jars, look);
  std::vector<std::string> batches;
  for (const Json& jar : jars) {
    const std::string batch = text(jar, "batch");
    if (std::find(batches.begin(), batches.end(), batch) == batches.end()) batches.push_back(batch);
  }
  std::string page;
  for (const std::string& batch : batches) {
    page +=
        (page.empty() ? "" : "\n") + inked("batch " + clean(batch, look), Ink::faint, look) + "\n";
    for (const Json& jar : jars) {
      if (text(jar, "batch") == batch) page += jar_row(jar, width, look);
    }
  }
  return page;
}

std::string culture_row(const Json& culture, std::size_t width, const Look& look) {
  const double whole = number(culture, "millilitres").value_or(0);
  const double left = number(culture, "left_ml").value_or(0);
  const std::string id = padded(cut(clean(text(culture, "id"), look), width), width);
  const bool gone = !text(culture, "discarded").empty();
  std::string head = inked(id, gone ? Ink::faint : Ink::strong, look);
  head += "  " + level_bar(whole > 0 ? left / whole : 0, look) + "  ";
  std::string told = gone ? "thrown away " + short_day(text(culture, "discarded"), look)
                          : fmt::format("{} of {} mL left", trimmed(left), trimmed(whole));
  join_to(told, clean(text(culture, "strain"), look));
  const std::string source = clean(text(culture, "source"), look);
  join_to(told, source.empty() ? "" : "from " + source);
  join_to(told, "received " + short_day(text(culture, "received"), look));
  if (const std::string day = short_day(text(culture, "opened"), look); !day.empty()) {
    join_to(told, "opened " + day);
  }
  const double jars = number(culture, "jars").value_or(0);
  const double bad = number(culture, "contaminated").value_or(0);
  if (jars > 0) join_to(told, "in " + counted(jars, "jar", "jars"));
  if (bad > 0) told += fmt::format(", {:.0f} of them contaminated", bad);
  return beside(head, told, bad > 0 ? Ink::warn : Ink::plain, look);
}

}  // namespace

Shown show_cultures(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "cultures");
  if (!answer.ok()) return answer.error();
  const Json& cultures = list(*answer, "cultures");
  const std::size_t width = id_column(cultures, look);
  std::string page;
  for (const Json& culture : cultures) page += culture_row(culture, width, look);
  if (page.empty()) {
    page =
        "No culture yet; one comes into the record with:\n"
        "tubwarden culture receive LC-1 --volume 10mL\n";
  }
  return page;
}

Shown show_culture(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "culture");
  if (!answer.ok()) return answer.error();
  const Json& culture = member(*answer, "culture");
  std::string page = culture_row(culture, columns(clean(text(culture, "id"), look)), look);
  const Json& jars = list(culture, "jar_rows");
  return jars.empty() ? page : page + "\n" + jar_rows(jars, look);
}

Shown show_jars(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "jars");
  if (!answer.ok()) return answer.error();
  std::string page = jar_rows(list(*answer, "jars"), look);
  const double left_out = number(*answer, "left_out").value_or(0);
  if (page.empty()) page = left_out > 0 ? "No jar stands now.\n" : "No jar yet.\n";
  if (left_out > 0) {
    page += beside("",
                   counted(left_out, "more jar stands", "more jars stand") +
                       " no longer: tubwarden jar list --all",
                   Ink::faint, look);
  }
  return page;
}

Shown show_jar(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "jar");
  if (!answer.ok()) return answer.error();
  const Json& jar = member(*answer, "jar");
  std::string page = jar_row(jar, columns(clean(text(jar, "id"), look)), look);
  const auto line = [&](const char* head, const std::string& told) {
    if (!told.empty()) page += beside(padded(head, 12), told, Ink::plain, look);
  };
  line("batch", clean(text(jar, "batch"), look));
  line("run", clean(text(jar, "run"), look));
  if (const auto fill = number(jar, "fill_g")) line("fill", trimmed(*fill, 0) + " g");
  line("filled", local_time(text(jar, "added"), look, true));
  line("inoculated", local_time(text(jar, "inoculated"), look, true));
  for (const Json& seen : list(jar, "looks")) {
    line("looked at", fmt::format("{}: {} % grown through", local_time(text(seen, "at"), look),
                                  trimmed(number(seen, "grown_pct").value_or(0), 0)));
  }
  return page;
}

}  // namespace tubwarden::cli
