#include <fmt/format.h>

#include <array>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/climate/actuator_plan.hpp"
#include "settings/option_table.hpp"

namespace tubwarden {
namespace {

constexpr std::string_view kHead = R"(# Configuration

<!-- Made from the option table by the program's own tests: change daemon/settings/option_table.cpp
     or option_reference.cpp, then run unit_settings with TUBWARDEN_REMAKE_DOCS=1. -->

A folder, `/etc/tubwarden` when installed, of YAML files:

| file | what it says |
|---|---|
| `tubwarden.yaml` | the site: broker, record, room, channels |
| `profiles/*.yaml` | one grow plan each: the phases and what each keeps |
| `chambers/*.yaml` | one shared air each, with its sensors and actuators |
| `tubs/*.yaml` | one tub or shelf of jars each |

`tubwarden rehearse` takes a file of faults beside the folder, written by the same rules.

Files that begin with a dot or end otherwise are not read. `tubwarden check DIR` reads a folder and
says all that is wrong with it, each finding as `file:line:column: what is wrong, what is allowed`;
a daemon that runs does the same when a file is saved. A tub whose file, profile or chamber has an
error keeps what it had, the others go on. The annotated folder `config/` is a beginning.

Read or refused:

- Anchors, aliases, tags and keys that stand twice are refused: they make a file say something else
  than what is seen. A file is UTF-8, at most 1 MiB, one document.
- A key that is not listed here is refused, with the nearest that is.
- Names (of sites, tubs, sensors, ...) are letters, digits, `-` and `_`, at most 40.
- Topics are plain: no `+` or `#`, nothing under `$`.

## Amounts

An amount carries its unit; a bare number is refused.

| amount | written |
|---|---|
)";

constexpr std::string_view kNotes = R"(
## What check refuses and warns of

Refused, beside wrong keys and values:

- a temperature without its place; a phase that keeps both, the substrate's and the air's;
- CO2 kept in `grain`, `colonization` or `casing`, where nothing calls for air because of it;
- warn limits inside the band; a phase, profile, chamber or leader that does not exist;
- several tubs in one air without a leader; two of one name; two outputs switched by one topic;
- a network output without `falls_by_itself_after`; a heater whose output never falls by itself,
  unless an independent thermal cut-out is declared with `cut_out`;
- wiring that the plugin does not know, lacks, or cannot take.

Warned of, and run all the same:

- an output that never falls by itself: what its broker's will covers, and what it does not;
- a fan where the room is not known: it is then never called for humidity, temperature or ceiling;
- a substrate ceiling without a sensor in the substrate: it is judged from the air + 3 C;
- a band narrower than its sensor is accurate; a ceiling inside a band;
- a quantity that a phase asks for and no sensor measures: neither kept nor warned of;
- a `next: when` of a quantity that no sensor measures: the plan never goes on;
- a mister whose shortest run lifts the air by more than a quarter of the band;
- a fresh-air floor that the fan cannot reach; less CO2 asked for than the room has.
)";

struct SectionTitle {
  std::string_view section;
  std::string_view title;
};
constexpr std::array<SectionTitle, 39> kSections = {{
    {"site", "tubwarden.yaml"},
    {"broker", "tubwarden.yaml: broker"},
    {"record", "tubwarden.yaml: record"},
    {"control", "tubwarden.yaml: control"},
    {"sheet", "tubwarden.yaml: sheet"},
    {"hosts", "tubwarden.yaml: hosts"},
    {"room", "tubwarden.yaml: room"},
    {"room_sensor", "tubwarden.yaml: room: a sensor"},
    {"channel", "tubwarden.yaml: channels: each"},
    {"heartbeat", "tubwarden.yaml: channels: each: heartbeat"},
    {"alerts", "tubwarden.yaml: alerts"},
    {"quiet_hours", "tubwarden.yaml: alerts: quiet_hours"},
    {"profile", "profiles/*.yaml"},
    {"phase", "profiles/*.yaml: phases: each"},
    {"next", "profiles/*.yaml: phases: next"},
    {"next_when", "profiles/*.yaml: phases: next: when"},
    {"condition", "profiles/*.yaml: phases: next: when: a quantity"},
    {"phase_quantity", "profiles/*.yaml: phases: a quantity"},
    {"phase_derived", "profiles/*.yaml: phases: what follows from humidity and temperature"},
    {"warn", "profiles/*.yaml: phases: a quantity: warn"},
    {"fresh_air", "profiles/*.yaml: phases: fresh_air"},
    {"at_least", "profiles/*.yaml: phases: fresh_air: at_least"},
    {"drying", "profiles/*.yaml: phases: drying"},
    {"light", "profiles/*.yaml: phases: light"},
    {"expect", "profiles/*.yaml: phases: expect"},
    {"settle", "profiles/*.yaml: phases: settle"},
    {"tub", "tubs/*.yaml"},
    {"air", "tubs/*.yaml: air"},
    {"chamber", "chambers/*.yaml"},
    {"sensor", "sensors: each"},
    {"quantity", "sensors: a quantity"},
    {"calibrate", "sensors: calibrate"},
    {"time", "sensors: time"},
    {"gone", "sensors: gone"},
    {"actuator", "actuators: each"},
    {"limits", "actuators: limits"},
    {"duty", "actuators: duty"},
    {"faults", "rehearse --faults FILE"},
    {"fault", "rehearse --faults FILE: faults: each"},
}};

constexpr std::array<Measure, 11> kMeasures = {
    Measure::duration, Measure::volume,      Measure::mass,        Measure::water_rate,
    Measure::air_rate, Measure::power,       Measure::temperature, Measure::humidity,
    Measure::co2,      Measure::water_ratio, Measure::pressure};

/// "a volume with its unit: 60 L or 0.06 m3" as two cells.
std::string amount_rows() {
  std::string text;
  for (Measure measure : kMeasures) {
    const std::string_view told = allowed_units(measure);
    constexpr std::string_view kBetween = " with its unit: ";
    const std::size_t at = told.find(kBetween);
    ENSURE(at != std::string_view::npos);
    text += fmt::format("| {} | {} |\n", told.substr(0, at), told.substr(at + kBetween.size()));
  }
  return text;
}

std::string_view unit_word(UnitKind unit) {
  switch (unit) {
    case UnitKind::duration:
      return "duration";
    case UnitKind::volume:
      return "volume";
    case UnitKind::mass:
      return "mass";
    case UnitKind::temperature:
      return "temperature";
    case UnitKind::share:
      return "share";
    case UnitKind::humidity:
      return "humidity";
    case UnitKind::power:
      return "power";
    case UnitKind::co2:
      return "CO2 level";
    case UnitKind::by_effect:
    case UnitKind::by_quantity:
    case UnitKind::none:
      break;
  }
  return "amount";
}

std::string limits_of(const OptionRow& row) {
  if (row.limits.low == kAny.low) return "";
  const auto told = [&](double limit) {
    const bool plain = row.unit == UnitKind::none || row.unit == UnitKind::by_effect;
    return plain ? trimmed(limit, 3) : amount_text(limit, measure_of(row.unit));
  };
  return fmt::format(", {} to {}", told(row.limits.low), told(row.limits.high));
}

/// What the value may be, in one cell.
std::string value_of(const OptionRow& row) {
  switch (row.type) {
    case OptionType::word:
      return fmt::format("`{}`", fmt::join(words_in(row.words), "`, `"));
    case OptionType::list:
      if (rows_of(row.words).empty()) {
        return fmt::format("list of `{}`", fmt::join(words_in(row.words), "`, `"));
      }
      return "list";
    case OptionType::amount:
    case OptionType::difference:
      return std::string(unit_word(row.unit)) + limits_of(row);
    case OptionType::amount_or_never:
      return std::string(unit_word(row.unit)) + limits_of(row) + ", or `never`";
    case OptionType::either:
      return fmt::format("{}{}, or section", unit_word(row.unit), limits_of(row));
    case OptionType::level:
      return "`rest`, `run` or `N %`";
    case OptionType::flag:
      return "`true`, `false`";
    case OptionType::pair:
      return "`[low, high]`";
    case OptionType::points:
      return "`[[read, true], [read, true]]`";
    case OptionType::id:
    case OptionType::text:
    case OptionType::topic:
    case OptionType::pointer:
    case OptionType::path:
    case OptionType::number:
    case OptionType::integer:
    case OptionType::clock:
    case OptionType::map:
    case OptionType::name_or_map:
    case OptionType::plugin:
      break;
  }
  return std::string(name_of(row.type)) + limits_of(row);
}

std::string section_text(const SectionTitle& titled) {
  std::string text =
      fmt::format("\n### `{}`\n\n| key | value | default | |\n|---|---|---|---|\n", titled.title);
  for (const OptionRow& row : rows_of(titled.section)) {
    const std::string fallback = row.required()         ? "**(required)**"
                                 : row.fallback.empty() ? ""
                                                        : fmt::format("`{}`", row.fallback);
    std::string help(row.help);
    for (std::size_t at = 0; (at = help.find('|', at)) != std::string::npos; at += 2) {
      help.insert(at, "\\");
    }
    text += fmt::format("| `{}` | {} | {} | {} |\n", row.key, value_of(row), fallback, help);
  }
  return text;
}

std::string limits_by_effect() {
  std::string text =
      "\n### Limits by effect, where none are given\n\nCommon practice, no source.\n\n"
      "| effect | shortest run | shortest rest | longest run | starts an hour |\n"
      "|---|---|---|---|---|\n";
  const auto told = [](Duration d) {
    return d == Duration{0} ? "none" : amount_text(seconds_of(d), Measure::duration);
  };
  for (Effect effect : {Effect::humidify, Effect::dehumidify, Effect::heat, Effect::cool,
                        Effect::fresh_air, Effect::stir, Effect::light}) {
    const RunLimits limits = default_limits(effect);
    text +=
        fmt::format("| `{}` | {} | {} | {} | {} |\n", name_of(effect), told(limits.shortest_run),
                    told(limits.shortest_rest), told(limits.longest_run),
                    limits.starts_per_hour == 0 ? "none" : std::to_string(limits.starts_per_hour));
  }
  return text;
}

}  // namespace

std::string option_reference_markdown() {
  std::string text(kHead);
  text += amount_rows();
  text += "\nWhere an accuracy or a step is given as F, it is a distance: 1.8 F are 1 C.\n";
  text += "\n## Keys\n";
  for (const SectionTitle& titled : kSections) text += section_text(titled);
  text += limits_by_effect();
  text += kNotes;
  return text;
}

}  // namespace tubwarden
