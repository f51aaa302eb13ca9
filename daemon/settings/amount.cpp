#include "settings/amount.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include "base/ensure.hpp"
#include "base/quantity.hpp"
#include "base/text.hpp"
#include "settings/yaml_tree.hpp"

namespace tubwarden {
namespace {

constexpr double kLongestS = 3650.0 * 86400.0;
constexpr double kLargest = 1e9;

struct UnitRow {
  Measure measure;
  std::string_view unit;
  double scale;        ///< to the kept unit
  double offset = 0;   ///< taken off before
  double divisor = 1;  ///< and after: 1.8 has no exact inverse
};

/// The kept unit of each measure comes first.
constexpr std::array<UnitRow, 31> kUnits = {{{Measure::duration, "s", 1},
                                             {Measure::duration, "ms", 1e-3},
                                             {Measure::duration, "m", 60},
                                             {Measure::duration, "h", 3600},
                                             {Measure::duration, "d", 86400},
                                             {Measure::volume, "L", 1},
                                             {Measure::volume, "m3", 1000},
                                             {Measure::mass, "kg", 1},
                                             {Measure::mass, "g", 1e-3},
                                             {Measure::water_rate, "g/h", 1},
                                             {Measure::water_rate, "kg/h", 1000},
                                             {Measure::air_rate, "m3/h", 1},
                                             {Measure::air_rate, "L/h", 1e-3},
                                             {Measure::power, "W", 1},
                                             {Measure::temperature, "C", 1},
                                             {Measure::temperature, "F", 1, 32, 1.8},
                                             {Measure::humidity, "%", 1},
                                             {Measure::co2, "ppm", 1},
                                             {Measure::co2, "%", 10000},
                                             {Measure::water_ratio, "g/kg", 1},
                                             {Measure::pressure, "kPa", 1},
                                             {Measure::pressure, "Pa", 1e-3},
                                             {Measure::share, "%", 1},
                                             {Measure::gauge, "kPa", 1},
                                             {Measure::gauge, "psi", 6.894757},
                                             {Measure::gauge, "bar", 100},
                                             {Measure::length, "m", 1},
                                             {Measure::length, "cm", 0.01},
                                             {Measure::length, "mm", 0.001},
                                             {Measure::length, "ft", 0.3048},
                                             {Measure::length, "in", 0.0254}}};

const UnitRow* unit_row(Measure measure, std::string_view unit) {
  for (const UnitRow& row : kUnits) {
    if (row.measure == measure && row.unit == unit) return &row;
  }
  return nullptr;
}

/// A number, the word behind it, and what follows the word.
struct Parts {
  double number = 0;
  std::string_view unit;
  std::string_view rest;
};

void skip_space(std::string_view& text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
}

std::optional<Parts> split(std::string_view text) {
  skip_space(text);
  Parts parts;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), parts.number,
                                           std::chars_format::fixed);
  if (code != std::errc() || !std::isfinite(parts.number)) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  skip_space(text);
  // A unit ends at a space, or in "1h30m" where the next number begins; "m3" keeps its three.
  std::size_t length = text.starts_with("m3") ? 2 : 0;
  while (length < text.size() && text[length] != ' ' &&
         (text[length] < '0' || text[length] > '9')) {
    ++length;
  }
  parts.unit = text.substr(0, length);
  text.remove_prefix(length);
  skip_space(text);
  parts.rest = text;
  return parts;
}

Error not_an_amount(std::string_view text, Measure measure) {
  const auto parts = split(text);
  const bool bare = parts && parts->unit.empty();
  return {ErrorCode::bad_input, in_quotes(text) + (bare ? " has no unit" : " is not allowed here") +
                                    "; write " + std::string(allowed_units(measure))};
}

Result<double> parse(std::string_view text, Measure measure, bool difference) {
  const auto parts = split(text);
  const UnitRow* row = parts ? unit_row(measure, parts->unit) : nullptr;
  if (!row || !parts->rest.empty()) return not_an_amount(text, measure);
  const double value = (parts->number - (difference ? 0 : row->offset)) * row->scale / row->divisor;
  if (std::abs(value) > kLargest || (difference && value < 0)) {
    return Error{ErrorCode::bad_input, in_quotes(text) +
                                           (value < 0 ? " is negative" : " is too much") +
                                           "; write " + std::string(allowed_units(measure))};
  }
  return value;
}

/// Every unit that is not zero: "1h 30m", "1s 500ms".
std::string duration_text(Duration d) {
  std::string text;
  for (const char* unit : {"d", "h", "m", "s", "ms"}) {
    const Duration size = from_seconds(unit_row(Measure::duration, unit)->scale);
    const auto count = d / size;
    d -= count * size;
    if (count > 0) text += (text.empty() ? "" : " ") + std::to_string(count) + unit;
  }
  return text.empty() ? "0s" : text;
}

}  // namespace

std::string_view allowed_units(Measure measure) {
  switch (measure) {
    case Measure::duration:
      return "a duration with its unit: 500ms, 90s, 15m, 6h or 14d";
    case Measure::volume:
      return "a volume with its unit: 60 L or 0.06 m3";
    case Measure::mass:
      return "a mass with its unit: 5 kg or 500 g";
    case Measure::water_rate:
      return "a rate of water with its unit: 40 g/h or 0.04 kg/h";
    case Measure::air_rate:
      return "a rate of air with its unit: 2 m3/h or 2000 L/h";
    case Measure::power:
      return "a power with its unit: 15 W";
    case Measure::temperature:
      return "a temperature with its unit: 24 C or 75 F";
    case Measure::humidity:
      return "a relative humidity with its unit: 90 %";
    case Measure::co2:
      return "a CO2 level with its unit: 1000 ppm or 0.1 %";
    case Measure::water_ratio:
      return "a humidity ratio with its unit: 11.5 g/kg";
    case Measure::pressure:
      return "a vapour pressure with its unit: 0.4 kPa or 400 Pa";
    case Measure::share:
      return "a share with its unit: 52 %";
    case Measure::gauge:
      return "a gauge pressure with its unit: 15 psi, 1 bar or 100 kPa";
    case Measure::length:
      return "a length with its unit: 4 cm, 40 mm, 0.6 m, 1200 ft or 2 in";
  }
  ENSURE(false);
}

Result<double> parse_amount(std::string_view text, Measure measure) {
  return parse(text, measure, false);
}

Result<double> parse_difference(std::string_view text, Measure measure) {
  return parse(text, measure, true);
}

Result<Duration> parse_duration(std::string_view text) {
  double sum_s = 0, last_scale = 2 * kLongestS;
  std::string_view rest = text;
  do {
    const auto parts = split(rest);
    const UnitRow* row = parts ? unit_row(Measure::duration, parts->unit) : nullptr;
    if (!row || parts->number < 0 || row->scale >= last_scale) {
      return not_an_amount(text, Measure::duration);
    }
    sum_s += parts->number * row->scale;
    last_scale = row->scale;
    rest = parts->rest;
  } while (!rest.empty());
  if (sum_s > kLongestS) {
    return Error{ErrorCode::bad_input, in_quotes(text) + " is too long; allowed: up to 3650d"};
  }
  return Duration(std::llround(sum_s * 1e9));
}

std::string amount_text(double kept, Measure measure) {
  if (measure == Measure::duration) return duration_text(from_seconds(kept));
  for (const UnitRow& row : kUnits) {
    if (row.measure == measure) return trimmed(kept, 3) + " " + std::string(row.unit);
  }
  ENSURE(false);
}

}  // namespace tubwarden
