// The option table: one row a key. Loader, checker and reference come from it; a key enters when
// something obeys it. Threading: constant data. Failure: none.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tubwarden {

enum class OptionType {
  id,  ///< letters, digits, "-" and "_", at most 40
  text,
  topic,    ///< an MQTT topic without wildcards
  pointer,  ///< RFC 6901
  number,
  integer,
  flag,  ///< true | false
  word,  ///< one of `allowed`
  duration,
  volume,
  mass,
  rate,  ///< g/h, m3/h or W, by the actuator's effect
  temperature,
  amount,  ///< in the unit of its quantity
  pair,    ///< [low, high] in the unit of its quantity
  level,   ///< rest | run | N %
  clock,   ///< HH:MM
  path,
  map,     ///< a section of its own
  list,    ///< a list of sections
  either,  ///< an amount or a section
};

struct OptionRow {
  std::string_view section;
  std::string_view key;
  OptionType type;
  bool required;
  std::string_view fallback;  ///< as it would be written; empty: none
  std::string_view allowed;   ///< words "a|b", or "low..high" in the kept unit; empty: any
  std::string_view help;
};

std::span<const OptionRow> option_table();
/// The rows of one section, in order.
std::vector<const OptionRow*> rows_of(std::string_view section);
const OptionRow* row_of(std::string_view section, std::string_view key);
std::string_view name_of(OptionType type);

/// The reference of all options as Markdown, for docs/configuration.md.
std::string option_reference_markdown();

}  // namespace tubwarden
