#include "programs/cli/words_grow_read.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>
#include <optional>

#include "programs/cli/words_grow.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kSpreadMost = 500;

struct UnitFigure {
  double value = 0.0;
  std::string_view unit;
};

std::optional<UnitFigure> figure_in(std::string_view text) {
  UnitFigure figure;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), figure.value);
  if (code != std::errc() || !std::isfinite(figure.value)) return std::nullopt;
  figure.unit = text.substr(static_cast<std::size_t>(end - text.data()));
  while (figure.unit.starts_with(' ')) figure.unit.remove_prefix(1);
  return figure;
}

struct UnitOf {
  std::string_view unit;
  double scale;
};

/// A figure in one of some units, in that of scale 1.
template <std::size_t N>
Result<double> in_units(std::string_view text, const UnitOf (&units)[N], const char* allowed) {
  const auto figure = figure_in(text);
  for (const UnitOf& row : units) {
    if (figure && figure->unit == row.unit) return figure->value * row.scale;
  }
  return Error{ErrorCode::bad_input,
               fmt::format("'{}' is not understood; allowed: {}", text, allowed)};
}

/// "J-12" as "J-" and 12; nothing where no plain number ends it.
std::optional<std::pair<std::string, long>> counted_id(const std::string& id) {
  const std::size_t at = id.find_last_not_of("0123456789") + 1;
  if (at >= id.size() || id.size() - at > 9 || (id[at] == '0' && id.size() - at > 1)) {
    return std::nullopt;
  }
  return std::pair(id.substr(0, at), std::stol(id.substr(at)));
}

}  // namespace

void wrong_grow_word(const char* option, const std::string& why) {
  throw CLI::ValidationError(option, why);
}

Result<std::vector<std::string>> spread(const std::vector<std::string>& words) {
  std::vector<std::string> all;
  for (const std::string& word : words) {
    const std::size_t dots = word.find("..");
    if (dots == std::string::npos) {
      all.push_back(word);
      continue;
    }
    const auto first = counted_id(word.substr(0, dots)), last = counted_id(word.substr(dots + 2));
    if (!first || !last || first->first != last->first || first->second > last->second) {
      return Error{ErrorCode::bad_input,
                   fmt::format("'{}' is no range of ids; allowed: J-1..J-5", word)};
    }
    if (static_cast<std::size_t>(last->second - first->second) >= kSpreadMost) {
      return Error{ErrorCode::bad_input,
                   fmt::format("'{}' is too many; allowed: {} at once", word, kSpreadMost)};
    }
    for (long n = first->second; n <= last->second; ++n) {
      all.push_back(first->first + std::to_string(n));
    }
  }
  return all;
}

Result<double> parse_millilitres(std::string_view text) {
  return in_units(text, {{"mL", 1.0}, {"ml", 1.0}, {"L", 1000.0}, {"l", 1000.0}},
                  "10mL, 1.5 mL or 0.5L");
}

Result<double> parse_area(std::string_view text) {
  return in_units(text, {{"m2", 1.0}, {"cm2", 1e-4}}, "0.24m2 or 2400cm2");
}

Result<double> parse_water_kg(std::string_view text) {
  return in_units(text, {{"L", 1.0}, {"l", 1.0}, {"kg", 1.0}, {"mL", 1e-3}, {"g", 1e-3}},
                  "8L, 8kg or 500mL");
}

Result<double> read_mass(std::string_view text) { return parse_amount(text, Measure::mass); }

Result<double> read_grams(std::string_view text) {
  const auto kg = parse_amount(text, Measure::mass);
  return kg.ok() ? Result<double>(*kg * 1000.0) : kg;
}

Result<double> read_millimetres(std::string_view text) {
  const auto metres = parse_amount(text, Measure::length);
  return metres.ok() ? Result<double>(*metres * 1000.0) : metres;
}

Result<double> read_gauge(std::string_view text) { return parse_amount(text, Measure::gauge); }

Result<double> read_minutes(std::string_view text) {
  return in_units(text, {{"", 1.0}, {"min", 1.0}, {"m", 1.0}}, "12.5 or 12.5min");
}

Result<double> read_percent(std::string_view text) {
  return in_units(text, {{"%", 1.0}, {"", 1.0}}, "25% or 25");
}

long read_entry(const std::string& text) {
  long entry = 0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), entry);
  if (code == std::errc() && end == text.data() + text.size() && entry > 0) return entry;
  wrong_grow_word("ENTRY", fmt::format("'{}' is no entry; allowed: last, or the number that batch "
                                       "show and trace give it",
                                       text));
}

}  // namespace tubwarden::cli
