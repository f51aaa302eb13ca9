#include "settings/amount.hpp"

#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <optional>

#include "base/ensure.hpp"
#include "base/quantity.hpp"

namespace tubwarden {
namespace {

struct UnitRow {
  Measure measure;
  std::string_view unit;
  double scale;
};

constexpr std::array<UnitRow, 17> kUnits = {{{Measure::duration, "ms", 1e-3},
                                             {Measure::duration, "s", 1},
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
                                             {Measure::humidity, "%", 1},
                                             {Measure::co2, "ppm", 1}}};

struct Parts {
  double number = 0;
  std::string_view unit;
  std::string_view rest;
};

void skip_space(std::string_view& text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
}

/// One number and the word behind it.
std::optional<Parts> split(std::string_view text) {
  skip_space(text);
  Parts parts;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), parts.number);
  if (code != std::errc() || !std::isfinite(parts.number)) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  skip_space(text);
  std::size_t length = 0;
  while (length < text.size() && text[length] != ' ') {
    const bool digit = std::isdigit(static_cast<unsigned char>(text[length])) != 0;
    // In "1h30m" the unit ends where the next number begins; "m3" keeps its three.
    const bool cubic = length == 1 && text.starts_with("m3") &&
                       (text.size() == 2 || text[2] == ' ' || text[2] == '/');
    if (digit && !cubic) break;
    ++length;
  }
  parts.unit = text.substr(0, length);
  text.remove_prefix(length);
  skip_space(text);
  parts.rest = text;
  return parts;
}

Error not_an_amount(std::string_view text, Measure measure) {
  return {ErrorCode::bad_input, "'" + std::string(text) + "' is not allowed here; write " +
                                    std::string(allowed_units(measure))};
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
      return "a rate of water with its unit: 40 g/h";
    case Measure::air_rate:
      return "a rate of air with its unit: 2 m3/h";
    case Measure::power:
      return "a power with its unit: 15 W";
    case Measure::temperature:
      return "a temperature with its unit: 24 C or 75 F";
    case Measure::humidity:
      return "a relative humidity with its unit: 90 %";
    case Measure::co2:
      return "a CO2 level with its unit: 1000 ppm or 0.1 %";
  }
  ENSURE(false);
}

Result<double> parse_amount(std::string_view text, Measure measure) {
  const auto parts = split(text);
  if (!parts || !parts->rest.empty()) return not_an_amount(text, measure);
  for (const UnitRow& row : kUnits) {
    if (row.measure == measure && row.unit == parts->unit) return parts->number * row.scale;
  }
  if (measure == Measure::temperature && parts->unit == "F") {
    return celsius_from_fahrenheit(parts->number);
  }
  if (measure == Measure::co2 && parts->unit == "%") return ppm_from_percent(parts->number);
  return not_an_amount(text, measure);
}

Result<Duration> parse_duration(std::string_view text) {
  constexpr double kLongestS = 3650.0 * 86400.0;
  double sum = 0;
  std::string_view rest = text;
  do {
    const auto parts = split(rest);
    if (!parts || parts->number < 0) return not_an_amount(text, Measure::duration);
    const UnitRow* found = nullptr;
    for (const UnitRow& row : kUnits) {
      if (row.measure == Measure::duration && row.unit == parts->unit) found = &row;
    }
    if (!found) return not_an_amount(text, Measure::duration);
    sum += parts->number * found->scale;
    rest = parts->rest;
  } while (!rest.empty());
  if (sum > kLongestS) {
    return Error{ErrorCode::bad_input, "'" + std::string(text) + "' is longer than ten years"};
  }
  return Duration(std::llround(sum * 1e9));
}

}  // namespace tubwarden
