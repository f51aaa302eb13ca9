#include "programs/cli/status_air.hpp"

#include <fmt/format.h>

#include "base/text.hpp"
#include "programs/cli/ruler.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kValueWidth = 10;
constexpr std::size_t kBandWidth = 10;
constexpr std::size_t kStandWidth = 8;
constexpr std::size_t kAgeWidth = 8;

Reading reading_of(const Json& air) {
  Reading r;
  const std::string unit = text(air, "unit");
  r.value = number(air, "value");
  r.keep_low = at(member(air, "keep"), 0);
  r.keep_high = at(member(air, "keep"), 1);
  r.warn_low = at(member(air, "warn"), 0);
  r.warn_high = at(member(air, "warn"), 1);
  if (!r.keep_low || !r.keep_high) r.keep_low = r.keep_high = std::nullopt;
  if (unit == "%" || unit == "ppm") r.least = 0.0;
  if (unit == "%") r.most = 100.0;
  r.low_is_fine = unit == "ppm";
  r.high_is_fine = r.keep_high && *r.keep_high >= r.most;
  return r;
}

std::string figure(double value, const std::string& unit) {
  return fmt::format("{:.{}f} {}", value, unit == "ppm" ? 0 : 1, unit);
}

std::string band_text(const Reading& r) {
  if (!r.keep_low || !r.keep_high) return "";
  if (r.low_is_fine) return "below " + trimmed(*r.keep_high, 0);
  if (r.high_is_fine) return "above " + trimmed(*r.keep_low, 1);
  return trimmed(*r.keep_low, 1) + ".." + trimmed(*r.keep_high, 1);
}

/// The unit tells a temperature; its place is what is left of the word.
std::string short_word(std::string word) {
  const std::string tail = " temperature";
  if (word.size() > tail.size() && word.ends_with(tail)) word.resize(word.size() - tail.size());
  return word;
}

Ink ink_of(Stand stand) {
  switch (stand) {
    case Stand::unjudged:
    case Stand::inside:
      return Ink::plain;
    case Stand::below:
    case Stand::above:
      return Ink::warn;
    case Stand::too_low:
    case Stand::too_high:
      return Ink::alarm;
  }
  return Ink::plain;
}

}  // namespace

std::string mark(const Page& page, Mark m) {
  switch (m) {
    case Mark::none:
      return "  ";
    case Mark::runs:
      return page.ink(page.look.utf8 ? "\u25ae " : "* ", Ink::strong);
    case Mark::wrong:
      return page.ink("! ", Ink::alarm);
  }
  return "  ";
}

void air_line(Page& page, const Json& air) {
  const Look& look = page.look;
  const Reading reading = reading_of(air);
  const std::string unit = page.said(air, "unit");
  const bool usable = yes(air, "usable");
  const Stand stand = usable ? stand_of(reading) : Stand::unjudged;
  const Ink ink = usable ? ink_of(stand) : Ink::faint;
  std::string value = reading.value ? figure(*reading.value, unit) : "none";
  if (reading.value && yes(air, "at_least")) value = ">=" + value;
  std::string age;
  if (const auto age_s = number(air, "age_s")) age = shortly(*age_s) + " ago";
  const bool wrong = stand == Stand::too_low || stand == Stand::too_high;
  const std::size_t fixed =
      2 + page.name_width + kValueWidth + 2 + 2 + kBandWidth + 1 + kStandWidth + 1 + kAgeWidth;
  const int cells = look.width - static_cast<int>(fixed);
  const std::string word = usable ? word_of(stand) : reading.value ? "not live" : "unheard";
  page.line(mark(page, wrong ? Mark::wrong : Mark::none) +
            padded(short_word(page.said(air, "word")), page.name_width) +
            page.ink(right(value, kValueWidth), ink) + "  " + ruler(reading, cells, look.utf8) +
            "  " + padded(band_text(reading), kBandWidth) + " " +
            page.ink(padded(word, kStandWidth), usable ? ink_of(stand) : Ink::warn) + " " +
            page.ink(right(age, kAgeWidth), usable ? Ink::faint : Ink::warn));
  const auto leaves_s = number(air, "leaves_in_s");
  const bool high = text(air, "leaves_over") == "high";
  const auto edge = high ? reading.keep_high : reading.keep_low;
  if (!leaves_s || !edge) return;
  page.line("  " + page.ink(fmt::format("{} {} {} in about {}, and nothing that is called turns it",
                                        short_word(page.said(air, "word")),
                                        high ? "rises above" : "falls below", figure(*edge, unit),
                                        shortly(*leaves_s)),
                            Ink::warn));
}

void derived_lines(Page& page, const Json& chamber) {
  std::string told;
  for (const Json& derived : list(chamber, "derived")) {
    const auto value = number(derived, "value");
    const std::string unit = page.said(derived, "unit");
    const std::string word = page.said(derived, "word");
    const std::string amount =
        value ? fmt::format("{:.{}f} {}", *value, unit == "kPa" ? 2 : 1, unit) : "not known";
    const Reading reading = reading_of(derived);
    std::string judged;
    if (reading.keep_low) judged = fmt::format(", kept at {} {}", band_text(reading), unit);
    const Stand stand = value ? stand_of(reading) : Stand::unjudged;
    if (stand != Stand::unjudged && stand != Stand::inside) {
      judged += fmt::format(", {}", word_of(stand));
    }
    told += fmt::format("{}{} {}{}", told.empty() ? "" : "; ", word, amount, judged);
  }
  if (!told.empty()) page.beside("  ", told, Ink::faint);
}

}  // namespace tubwarden::cli
