#include "settings/option_table.hpp"

#include <fmt/format.h>

#include <array>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

using T = OptionType;

// clang-format off
constexpr OptionRow kRows[] = {
    // tubwarden.yaml
    {"site", "site", T::id, true, "", "", "The name of the place; topics lie under tubwarden/SITE/."},
    {"site", "broker", T::map, true, "", "", "The message broker."},
    {"site", "record", T::map, false, "", "", "Where the record is kept."},
    {"site", "control", T::map, false, "", "", "Where the command line finds the daemon."},
    {"site", "room", T::map, false, "", "", "The room around the chambers. Without it the fan is never called for humidity, temperature or ceiling."},
    {"site", "channels", T::list, false, "", "", "The ways the grower is told."},
    {"broker", "url", T::text, true, "", "", "mqtt://HOST[:PORT], or mqtts:// for TLS (the host name is verified)."},
    {"broker", "user_file", T::path, false, "", "", "A file of two lines: name and password."},
    {"broker", "ca_file", T::path, false, "", "", "PEM of the authority that signed the broker's certificate."},
    {"broker", "cert_file", T::path, false, "", "", "PEM of our own certificate, where the broker asks for one."},
    {"broker", "key_file", T::path, false, "", "", "PEM of that certificate's key."},
    {"record", "folder", T::path, true, "", "", "The folder of record.db and readings.db; read at a start."},
    {"control", "socket", T::path, true, "", "", "The path of the control socket; read at a start."},
    {"room", "temperature", T::either, false, "", "", "A fixed temperature, or a sensor."},
    {"room", "humidity", T::either, false, "", "", "A fixed relative humidity, or a sensor."},
    {"room", "co2", T::either, false, "", "", "A fixed CO2 level, or a sensor; 420 ppm where it is not given."},
    {"room_sensor", "topic", T::topic, true, "", "", "Where the sensor speaks."},
    {"room_sensor", "at", T::pointer, false, "", "", "Where in the payload (RFC 6901); empty is the whole."},
    {"room_sensor", "unit", T::word, false, "", "C|F|K|%|ppm", "The unit of the raw number."},
    {"room_sensor", "stale_after", T::duration, false, "10m", "1s..1d", "Silent for longer, it counts as unknown."},
    {"channel", "id", T::id, true, "", "", "The channel's name."},
    {"channel", "plugin", T::text, true, "", "", "The plugin that delivers."},
    {"channel", "wiring", T::map, true, "", "", "The plugin's own options."},
    {"channel", "ranks", T::list, false, "", "now|today|noted", "Which alerts it is told; all where it is not given."},
    // profiles/*.yaml
    {"profile", "profile", T::id, true, "", "", "The name of the grow plan; the file's name without .yaml."},
    {"profile", "phases", T::list, true, "", "", "Its phases."},
    {"phase", "phase", T::id, true, "", "", "grain, colonization, casing, pinning, fruiting, empty, or a name of your own."},
    {"phase", "substrate_temperature", T::map, false, "", "", "What the substrate is kept at. Keep substrate or air, not both."},
    {"phase", "air_temperature", T::map, false, "", "", "What the air is kept at."},
    {"phase", "humidity", T::map, false, "", "", "Relative humidity of the air."},
    {"phase", "co2", T::map, false, "", "", "CO2 of the air."},
    {"phase", "fresh_air", T::map, false, "", "", "The fresh-air floor, under whatever else calls the fan."},
    {"phase", "light", T::map, false, "", "", "Hours of light; none where it is not given."},
    {"phase", "expect", T::map, false, "", "", "How long the phase usually lasts."},
    {"phase", "next", T::id, false, "", "", "The phase that usually follows."},
    {"phase", "settle", T::map, false, "", "", "How long warn limits wait after a change of phase."},
    {"phase_quantity", "keep", T::pair, false, "", "", "[low, high]. A raising actuator starts below low + a quarter of the width and stops at the middle; a lowering one starts above high - a quarter."},
    {"phase_quantity", "keep_above", T::amount, false, "", "", "Humidity only: the raising half of [X, 100 %]."},
    {"phase_quantity", "keep_below", T::amount, false, "", "", "CO2 only: the lowering half of [room, X]."},
    {"phase_quantity", "warn", T::map, false, "", "", "Where the grower is told."},
    {"phase_quantity", "glide", T::duration, false, "0s", "0s..14d", "The time in which the band moves from what was measured to what is asked."},
    {"warn", "outside", T::pair, false, "", "", "[below, above] in one."},
    {"warn", "below", T::amount, false, "", "", "Told when it is lower than this."},
    {"warn", "above", T::amount, false, "", "", "Told when it is higher than this."},
    {"warn", "on_delay", T::duration, false, "10m", "0s..1d", "It must stay outside for so long."},
    {"fresh_air", "at_least", T::map, true, "", "", "So many air changes each so often."},
    {"at_least", "changes", T::number, true, "", "0.01..100", "Air changes of the net volume."},
    {"at_least", "every", T::duration, true, "", "1m..1d", "In each such window."},
    {"light", "from", T::clock, true, "", "", "Local time of day."},
    {"light", "to", T::clock, true, "", "", "Local time of day; before `from` it runs over midnight."},
    {"expect", "from", T::duration, false, "", "", "Seldom shorter."},
    {"expect", "to", T::duration, false, "", "", "Seldom longer."},
    {"expect", "late", T::duration, false, "", "", "Look into it by then."},
    {"settle", "temperature", T::duration, false, "12h", "0s..7d", "For temperatures."},
    {"settle", "other", T::duration, false, "1h", "0s..7d", "For humidity and CO2."},
    // tubs/*.yaml, chambers/*.yaml
    {"tub", "tub", T::id, false, "", "", "The tub's name. A file has `tub` or `shelf`."},
    {"tub", "shelf", T::id, false, "", "", "The name of a shelf of jars; its phases are grain and empty."},
    {"tub", "batch", T::id, true, "", "", "The batch that stands in it. Another name ends the placement before."},
    {"tub", "profile", T::id, true, "", "", "The grow plan."},
    {"tub", "phase", T::id, true, "", "", "Edit this line and save: the tub changes phase."},
    {"tub", "substrate", T::mass, false, "", "0.01..10000", "Mass of the substrate."},
    {"tub", "substrate_ceiling", T::temperature, false, "", "0..45", "At or above it heat and light are locked off, whatever the phase."},
    {"tub", "stands_in", T::id, false, "", "", "The chamber it stands in; or it has `air` of its own."},
    {"tub", "air", T::map, false, "", "", "Its own chamber."},
    {"chamber", "chamber", T::id, true, "", "", "The chamber's name."},
    {"chamber", "leader", T::id, false, "", "", "The tub whose phase is kept; needed once several stand in it."},
    {"chamber", "net_volume", T::volume, true, "", "1..1000000", "Air without substrate and casing; one amount, or one a phase."},
    {"chamber", "sensors", T::list, false, "", "", "Its sensors."},
    {"chamber", "actuators", T::list, false, "", "", "Its actuators."},
    {"air", "net_volume", T::volume, true, "", "1..1000000", "Air without substrate and casing; one amount, or one a phase."},
    {"air", "sensors", T::list, false, "", "", "Its sensors."},
    {"air", "actuators", T::list, false, "", "", "Its actuators."},
    {"sensor", "id", T::id, true, "", "", "The sensor's name."},
    {"sensor", "topic", T::topic, true, "", "", "Where it speaks: a plain number, or JSON."},
    {"sensor", "humidity", T::map, false, "", "", "Relative humidity in the payload."},
    {"sensor", "temperature", T::map, false, "", "", "A temperature in the payload; `place` says of what."},
    {"sensor", "co2", T::map, false, "", "", "CO2 in the payload."},
    {"sensor", "stale_after", T::duration, false, "2m", "1s..1d", "Silent for longer, it drives nothing."},
    {"sensor", "time", T::map, false, "", "", "Where the payload carries its own time."},
    {"sensor", "gone", T::map, false, "", "", "The sensor's own last will."},
    {"quantity", "at", T::pointer, false, "", "", "Where in the payload (RFC 6901); empty is the whole."},
    {"quantity", "unit", T::word, false, "", "C|F|K|%|ppm", "The unit of the raw number: C, % or ppm where it is not given."},
    {"quantity", "scale", T::number, false, "1", "", "value = raw x scale + offset, then the unit."},
    {"quantity", "offset", T::number, false, "0", "", "See scale."},
    {"quantity", "range", T::pair, false, "", "", "Outside it a number is refused. At the top of its range CO2 means \"at least\"."},
    {"quantity", "accuracy", T::amount, false, "", "", "Plus or minus; a band narrower than this is warned of."},
    {"quantity", "step", T::amount, false, "", "", "The smallest change it can tell."},
    {"quantity", "place", T::word, false, "", "air|substrate", "What the temperature is of; a temperature needs it."},
    {"time", "at", T::pointer, true, "", "", "Where in the payload."},
    {"time", "form", T::word, true, "", "unix_s|unix_ms|rfc3339", "How it is written."},
    {"gone", "topic", T::topic, true, "", "", "Where the will is published."},
    {"gone", "says", T::text, true, "", "", "What it says when the sensor is gone."},
    {"actuator", "id", T::id, true, "", "", "The actuator's name."},
    {"actuator", "effect", T::word, true, "", "humidify|dehumidify|heat|cool|fresh_air|stir|light", "What it does to the air."},
    {"actuator", "rate", T::rate, false, "", "0.001..100000", "g/h of water, m3/h of air or W, by its effect; fresh_air needs it."},
    {"actuator", "driver", T::text, true, "", "", "The plugin that switches it."},
    {"actuator", "wiring", T::map, true, "", "", "The plugin's own options."},
    {"actuator", "safe", T::level, true, "", "", "Where it stands when nobody decides. Rest is not always safe."},
    {"actuator", "falls_by_itself_after", T::duration, false, "", "1s..1h", "A network output's own timer, or `never`; a network output needs it."},
    {"actuator", "cut_out", T::text, false, "", "", "What cuts a heater off by itself (a thermal cut-out), in words; a heater that never falls by itself needs it."},
    {"actuator", "limits", T::map, false, "", "", "Limits, with the last word over any decision."},
    {"actuator", "lease", T::duration, false, "15s", "3s..60s", "An output that is not renewed for so long falls safe."},
    {"actuator", "own_process", T::flag, false, "false", "", "A host process of its own."},
    {"limits", "shortest_run", T::duration, false, "", "0s..1h", "A run lasts at least so long, unless the air is at its far edge."},
    {"limits", "shortest_rest", T::duration, false, "", "0s..1d", "A rest lasts at least so long."},
    {"limits", "longest_run", T::duration, false, "", "0s..1d", "A run lasts at most so long."},
    {"limits", "starts_per_hour", T::integer, false, "", "1..240", "So many starts in any hour."},
};
// clang-format on

struct SectionTitle {
  std::string_view section;
  std::string_view title;
};
constexpr std::array<SectionTitle, 25> kSections = {{{"site", "tubwarden.yaml"},
                                                     {"broker", "broker:"},
                                                     {"record", "record:"},
                                                     {"control", "control:"},
                                                     {"room", "room:"},
                                                     {"room_sensor", "room: a sensor"},
                                                     {"channel", "channels: each"},
                                                     {"profile", "profiles/NAME.yaml"},
                                                     {"phase", "phases: each"},
                                                     {"phase_quantity", "a quantity of a phase"},
                                                     {"warn", "warn:"},
                                                     {"fresh_air", "fresh_air:"},
                                                     {"at_least", "at_least:"},
                                                     {"light", "light:"},
                                                     {"expect", "expect:"},
                                                     {"settle", "settle:"},
                                                     {"tub", "tubs/NAME.yaml"},
                                                     {"chamber", "chambers/NAME.yaml"},
                                                     {"air", "air: of a tub"},
                                                     {"sensor", "sensors: each"},
                                                     {"quantity", "a quantity of a sensor"},
                                                     {"time", "time:"},
                                                     {"gone", "gone:"},
                                                     {"actuator", "actuators: each"},
                                                     {"limits", "limits:"}}};

}  // namespace

std::span<const OptionRow> option_table() { return kRows; }

std::vector<const OptionRow*> rows_of(std::string_view section) {
  std::vector<const OptionRow*> rows;
  for (const OptionRow& row : kRows) {
    if (row.section == section) rows.push_back(&row);
  }
  return rows;
}

const OptionRow* row_of(std::string_view section, std::string_view key) {
  for (const OptionRow& row : kRows) {
    if (row.section == section && row.key == key) return &row;
  }
  return nullptr;
}

std::string_view name_of(OptionType type) {
  switch (type) {
    case T::id:
      return "name";
    case T::text:
      return "text";
    case T::topic:
      return "topic";
    case T::pointer:
      return "JSON pointer";
    case T::number:
      return "number";
    case T::integer:
      return "whole number";
    case T::flag:
      return "true or false";
    case T::word:
      return "word";
    case T::duration:
      return "duration";
    case T::volume:
      return "volume";
    case T::mass:
      return "mass";
    case T::rate:
      return "rate";
    case T::temperature:
      return "temperature";
    case T::amount:
      return "amount";
    case T::pair:
      return "[low, high]";
    case T::level:
      return "rest, run or N %";
    case T::clock:
      return "HH:MM";
    case T::path:
      return "path";
    case T::map:
      return "section";
    case T::list:
      return "list";
    case T::either:
      return "amount or section";
  }
  ENSURE(false);
}

std::string option_reference_markdown() {
  std::string text;
  for (const auto& [section, title] : kSections) {
    text += fmt::format("\n### `{}`\n\n| key | value | |\n|---|---|---|\n", title);
    for (const OptionRow* row : rows_of(section)) {
      std::string value(name_of(row->type));
      if (!row->allowed.empty()) {
        std::string allowed(row->allowed);
        for (std::size_t at = 0; (at = allowed.find('|', at)) != std::string::npos; at += 2) {
          allowed.replace(at, 1, ", ");
        }
        value += ": " + allowed;
      }
      const std::string need = row->required           ? "**(required)** "
                               : row->fallback.empty() ? ""
                                                       : fmt::format("(`{}`) ", row->fallback);
      text += fmt::format("| `{}` | {} | {}{} |\n", row->key, value, need, row->help);
    }
  }
  return text;
}

}  // namespace tubwarden
