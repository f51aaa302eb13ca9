// The option table: one row a key. Loader, checker and reference come from it; a key enters when
// something obeys it. Threading: constant data. Failure: none.
#pragma once

#include <limits>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "settings/amount.hpp"

namespace tubwarden {

enum class OptionType {
  id,       ///< letters, digits, "-" and "_", at most 40
  text,     ///< one line, not empty
  topic,    ///< an MQTT topic without wildcards
  pointer,  ///< RFC 6901
  path,     ///< from the root
  word,     ///< one of `words`
  number,
  integer,
  flag,   ///< true | false
  level,  ///< rest | run | N %
  clock,  ///< HH:MM
  amount,
  amount_or_never,
  difference,   ///< an amount that is a distance: 1 C is 1.8 F
  pair,         ///< [low, high], two amounts
  points,       ///< [[read, true], [read, true]], plain numbers
  map,          ///< a section of its own, named by `words`
  list,         ///< a list of sections named by `words`, or of words
  either,       ///< an amount, or a section named by `words`
  name_or_map,  ///< a name, or a section named by `words`
  plugin,       ///< the plugin's own options, by its own rows
};
std::string_view name_of(OptionType type);

/// What the amount of a row measures. Some are told by a word beside them.
enum class UnitKind {
  none,
  duration,
  volume,
  mass,
  temperature,
  humidity,
  share,  ///< %
  power,  ///< W
  co2,
  by_effect,    ///< g/h, m3/h or W
  by_quantity,  ///< %, C or ppm
};
/// Not for none, by_effect and by_quantity.
Measure measure_of(UnitKind unit);

/// In the kept unit; both ends are allowed.
struct Bounds {
  double low, high;
  constexpr bool hold(double value) const { return value >= low && value <= high; }
};
inline constexpr Bounds kAny = {-std::numeric_limits<double>::infinity(),
                                std::numeric_limits<double>::infinity()};

inline constexpr std::string_view kRequired = "(required)";

struct OptionRow {
  std::string_view section;
  std::string_view key;
  OptionType type;
  UnitKind unit;
  Bounds limits;
  std::string_view fallback;  ///< as it would be written; kRequired; or empty: none
  std::string_view words;     ///< "a|b" for a word; the section of a map, list or either
  std::string_view help;      ///< one sentence

  constexpr bool required() const { return fallback == kRequired; }
};

std::span<const OptionRow> option_table();
/// The rows of one section, in order; empty for an unknown one.
std::span<const OptionRow> rows_of(std::string_view section);
const OptionRow* row_of(std::string_view section, std::string_view key);

/// What an amount by quantity may be at all: a sensor sees more ("quantity") than a phase asks.
Bounds bounds_of(std::string_view section, Measure measure);

/// "a|b|c" as words.
std::vector<std::string> words_in(std::string_view bars);

/// The whole of docs/configuration.md.
std::string option_reference_markdown();

}  // namespace tubwarden
