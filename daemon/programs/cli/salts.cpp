#include "programs/cli/salts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

/// As the folder's check has it: a point further off is a mistake, not a sensor.
constexpr double kFarthestOff = 10.0;
/// Closer points say little of the line between them.
constexpr double kApart = 10.0;

constexpr const char* kSource =
    "L. Greenspan, Humidity Fixed Points of Binary Saturated Aqueous Solutions, J. Res. NBS 81A "
    "(1977) 89-96";

/// Common practice; the standard practice is ASTM E104.
constexpr const char* kSteps[] = {
    "Take two salts with your band between them: NaCl and K2SO4 for a cropping tub. Wet each with "
    "a "
    "little clean water in a small dish, so that it is a slurry with crystals left undissolved.",
    "Set the dish into a tight jar of glass, the sensor above it: it must not touch the salt, and "
    "nothing may drip on it. Lead the wire out under a lid that closes.",
    "Leave the jar where the temperature does not move, out of the sun and off the mat, for 12 "
    "hours "
    "(K2SO4: 24) and until the reading has not moved for an hour. One degree between dish and "
    "sensor "
    "is 6 % RH of error at the moist end.",
    "Note the reading and the temperature. It is the reading without `calibrate`: where the sensor "
    "has that key, take it out of the folder for the time of the check. Then the other jar.",
    "Give both: tubwarden kitchen salts NaCl=76.0 K2SO4=95.1 --at 19C --tub tub-1 --sensor air",
};

std::string allowed_salts() {
  std::string names;
  for (const SaltTraits& s : salts()) names += (names.empty() ? "" : ", ") + std::string(s.formula);
  return names;
}

Error bad(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

Result<SaltPoint> salt_point(const std::string& given, Celsius at) {
  const std::size_t equals = given.find('=');
  if (equals == std::string::npos) {
    return bad(
        fmt::format("'{}' is no point; allowed: a salt and what the sensor read over it, like "
                    "NaCl=76.0",
                    given));
  }
  const auto named = salt_named(given.substr(0, equals));
  if (!named) {
    return bad(fmt::format("'{}' is no salt that is known here; allowed: {}",
                           given.substr(0, equals), allowed_salts()));
  }
  std::string read = given.substr(equals + 1);
  if (read.ends_with('%')) read.pop_back();
  double value = 0.0;
  const auto [end, code] = std::from_chars(read.data(), read.data() + read.size(), value);
  if (code != std::errc() || end != read.data() + read.size() ||
      !(value >= 0.0 && value <= 100.0)) {
    return bad(fmt::format("'{}' is no humidity; allowed: 0 to 100 %", given.substr(equals + 1)));
  }
  const auto truth = over_salt(*named, at);
  if (!truth) {
    return bad(fmt::format("at {} C nothing is known of these salts; allowed: {} to {} C",
                           trimmed(at.value, 2), kSaltsFrom.value, kSaltsTo.value));
  }
  const auto of = std::find_if(salts().begin(), salts().end(),
                               [&](const SaltTraits& s) { return s.salt == *named; });
  ENSURE(of != salts().end());
  return SaltPoint{*of, value, *truth};
}

std::string off_by(const SaltPoint& point) {
  const double off = point.read_pct - point.truth.humidity.value;
  if (std::fabs(off) <= point.truth.uncertainty) return "right, within what the salt can tell";
  return fmt::format("{:.1f} % too {}", std::fabs(off), off > 0 ? "high" : "low");
}

std::string salt_table(double at_c, const Look& look) {
  std::string page;
  for (const SaltTraits& s : salts()) {
    const auto point = over_salt(s.salt, Celsius{at_c});
    const std::string settles =
        point ? fmt::format("{:.1f} +-{:.1f} %", point->humidity.value, point->uncertainty) : "";
    page += beside("  " + padded(std::string(s.formula), 7) + padded(settles, 15),
                   fmt::format("{}. {}", s.name, s.caution), Ink::plain, look);
  }
  return page;
}

}  // namespace

Result<SaltLine> salt_line(const std::vector<std::string>& points, Celsius at) {
  if (points.size() != 2) {
    return bad("two points make the line; allowed: two of SALT=READ, over two different salts");
  }
  auto a = salt_point(points[0], at);
  if (!a.ok()) return a.error();
  auto b = salt_point(points[1], at);
  if (!b.ok()) return b.error();
  SaltLine found{{std::move(a).value(), std::move(b).value()}, {}};
  if (found.points[0].truth.humidity.value > found.points[1].truth.humidity.value) {
    std::swap(found.points[0], found.points[1]);
  }
  for (const SaltPoint& p : found.points) {
    if (std::fabs(p.read_pct - p.truth.humidity.value) <= kFarthestOff) continue;
    return bad(
        fmt::format("over {} the sensor read {} %, and the air was at {:.1f} %: more than {} % off "
                    "is no sensor "
                    "to correct. Were the jars mixed up, or not left long enough?",
                    p.salt.formula, trimmed(p.read_pct, 2), p.truth.humidity.value, kFarthestOff));
  }
  const double apart = found.points[1].truth.humidity.value - found.points[0].truth.humidity.value;
  if (apart < kApart) {
    return bad(fmt::format("{} and {} are {:.1f} % apart; allowed: {} % or more between the two",
                           found.points[0].salt.formula, found.points[1].salt.formula, apart,
                           kApart));
  }
  const auto line = two_point({found.points[0].read_pct, found.points[0].truth.humidity.value},
                              {found.points[1].read_pct, found.points[1].truth.humidity.value});
  if (!line) return bad("the two readings do not rise together with the two humidities");
  found.line = line_of(*line);
  return found;
}

std::string calibrate_key(const SaltLine& found) {
  const auto pair = [](const SaltPoint& p) {
    return fmt::format("[{}, {}]", trimmed(p.read_pct, 2), trimmed(p.truth.humidity.value, 2));
  };
  return fmt::format("calibrate: {{humidity: [{}, {}]}}", pair(found.points[0]),
                     pair(found.points[1]));
}

std::string salt_note_args(const SaltLine& found, const KitchenSalts& wanted) {
  const auto said = [](const SaltPoint& p) {
    return fmt::format("{} % over {} ({:.1f} %)", trimmed(p.read_pct, 2), p.salt.formula,
                       p.truth.humidity.value);
  };
  const std::string text =
      fmt::format("Sensor {} checked over salts at {} C: it read {} and {}.", wanted.sensor,
                  trimmed(wanted.at_c, 1), said(found.points[0]), said(found.points[1]));
  return dumped({{"tub", wanted.tub}, {"text", text}});
}

std::string salt_done_args(const KitchenSalts& wanted) {
  return dumped({{"what", "recalibrated"}, {"tub", wanted.tub}, {"sensor", wanted.sensor}});
}

std::string salts_page(const KitchenSalts& wanted, const std::optional<SaltLine>& found,
                       const Look& look) {
  const std::string at = trimmed(wanted.at_c, 1);
  std::string page;
  if (!found) {
    page +=
        inked(fmt::format("Saturated salts, and what the air over them settles at, at {} C", at),
              Ink::strong, look) +
        "\n" + salt_table(wanted.at_c, look) + "\n";
    int step = 0;
    for (const char* text : kSteps) {
      page += beside(fmt::format("{}. ", ++step), text, Ink::plain, look);
    }
    return page + beside("Source: ", kSource, Ink::faint, look);
  }
  page += inked(fmt::format("Two points at {} C", at), Ink::strong, look) + "\n";
  for (const SaltPoint& p : found->points) {
    page += beside(
        "  " + padded(std::string(p.salt.formula), 7),
        fmt::format("settles at {:.1f} +-{:.1f} %; the sensor read {} %: {}",
                    p.truth.humidity.value, p.truth.uncertainty, trimmed(p.read_pct, 2), off_by(p)),
        Ink::plain, look);
  }
  page += fmt::format("  true = read x {:.4f} {} {:.2f}\n", found->line.scale,
                      found->line.offset < 0 ? "-" : "+", std::fabs(found->line.offset));
  page += "\n" + beside("", "Into the sensor's lines of the folder:", Ink::plain, look) + "    " +
          calibrate_key(*found) + "\n";
  return page + "\n" + beside("Source: ", kSource, Ink::faint, look);
}

std::string salts_json(const KitchenSalts& wanted, const std::optional<SaltLine>& found) {
  Json told = {{"temperature_c", wanted.at_c}, {"source", kSource}};
  if (!found) {
    Json list = Json::array();
    for (const SaltTraits& s : salts()) {
      const auto point = over_salt(s.salt, Celsius{wanted.at_c});
      if (!point) continue;
      list.push_back({{"salt", s.formula},
                      {"humidity_pct", std::round(point->humidity.value * 100.0) / 100.0},
                      {"uncertainty_pct", point->uncertainty}});
    }
    told["salts"] = list;
    return dumped(told) + "\n";
  }
  told["points"] = Json::array();
  for (const SaltPoint& p : found->points) {
    told["points"].push_back({{"salt", p.salt.formula},
                              {"read_pct", p.read_pct},
                              {"true_pct", std::round(p.truth.humidity.value * 100.0) / 100.0},
                              {"uncertainty_pct", p.truth.uncertainty}});
  }
  told["scale"] = found->line.scale;
  told["offset"] = found->line.offset;
  told["key"] = calibrate_key(*found);
  return dumped(told) + "\n";
}

}  // namespace tubwarden::cli
