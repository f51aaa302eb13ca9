#include "settings/new_folder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/climate/actuator_plan.hpp"
#include "core/fit/fan.hpp"
#include "core/fit/water.hpp"
#include "settings/amount.hpp"
#include "settings/yaml_text.hpp"

namespace tubwarden {
namespace {

/// The narrowest humidity band of the button profile, and the temperature it is kept at; a test
/// holds them against the profile.
constexpr double kBandPct = 5.0;
constexpr Celsius kAt{17.0};
/// A run the sensor cannot end in time stays within half of the band (a choice).
constexpr double kLongestOfBand = 0.5;
/// Of the air, in a fan's shortest run (a choice): it leaves the humidity within a 5 % band.
constexpr double kFanShare = 0.05;
constexpr Duration kStep = milliseconds(100);
constexpr Duration kShortestMost = seconds(1);
constexpr Duration kLongestMost = seconds(60);

/// Answers, read as they are written.
class From {
 public:
  explicit From(const InitAnswers& answers) : answers_(answers) {}
  std::string operator[](std::string_view name) const {
    const auto found = answers_.find(name);
    return found == answers_.end() ? kAnswerNone : found->second;
  }
  bool has(std::string_view name) const { return (*this)[name] != kAnswerNone; }
  std::string value(std::string_view name) const { return yaml_value((*this)[name]); }

 private:
  const InitAnswers& answers_;
};

std::string padded(std::string line, const char* comment) {
  constexpr std::size_t kColumn = 44;
  if (line.size() < kColumn) line.resize(kColumn, ' ');
  return line + " # " + comment + "\n";
}

std::string broker_text(const From& from) {
  std::string text = "broker:\n  url: " + from.value("broker") + "\n";
  struct File {
    const char* answer;
    const char* key;
  };
  for (const File& file : {File{"user-file", "user_file"}, File{"ca-file", "ca_file"},
                           File{"cert-file", "cert_file"}, File{"key-file", "key_file"}}) {
    if (from.has(file.answer)) {
      text += fmt::format("  {}: {}\n", file.key, from.value(file.answer));
    }
  }
  if (!from.has("user-file")) {
    text += "  # user_file: /etc/tubwarden/broker-user  # two lines: name, password\n";
  }
  return text;
}

std::string room_text(const From& from) {
  std::string text =
      "# The room around the tub, from which fresh air comes. Unknown, the fan is never called "
      "for\n"
      "# humidity, temperature or the substrate's ceiling. A sensor of the room is better than a\n"
      "# number: temperature: {topic: " +
      from["site"] + "/room, at: /t}\n";
  if (!from.has("room-temperature") && !from.has("room-humidity")) {
    return text + "# room:\n#   temperature: 17 C\n#   humidity: 55 %\n";
  }
  text += "room:\n";
  if (from.has("room-temperature")) text += "  temperature: " + from["room-temperature"] + "\n";
  if (from.has("room-humidity")) text += "  humidity: " + from["room-humidity"] + "\n";
  return text;
}

std::string site_text(const From& from, const std::string& socket) {
  return "# The site. `tubwarden check DIR` says what is wrong in this folder; saving a file "
         "applies\n"
         "# it. Amounts carry their unit: 90s, 6h, 60 L, 26.5 C, 90 %, 1000 ppm.\n\n" +
         padded("site: " + from.value("site"), "what the daemon says lies under tubwarden/NAME/") +
         "\n" + broker_text(from) + "\nrecord:\n" +
         padded("  folder: " + from.value("record"), "batches and readings; read at a start") +
         "\ncontrol:\n" +
         padded("  socket: " + yaml_value(socket), "where `tubwarden` finds the daemon") + "\n" +
         padded("sheet: {}", "a page at http://127.0.0.1:8437/, this board's own") + "\n" +
         room_text(from) +
         "\n# CAUTION, AIR: spawn gives off CO2, and a closed room collects it. Air the room "
         "before "
         "you\n# work in it; this program is no gas alarm.\n\n"
         "# The ways you are told of alerts, beside the log and `tubwarden alerts`.\n"
         "channels: []\n"
         "#  - id: phone\n#    plugin: program\n"
         "#    wiring: {argv: [/usr/local/bin/tell-my-phone], timeout: 20s}\n";
}

/// "{at: /rh}" and the like; `more` stands behind it.
std::string place_in_message(const std::string& at, const std::string& more = "") {
  const std::string where = at == kAnswerWhole ? "" : "at: " + yaml_value(at);
  const bool both = !where.empty() && !more.empty();
  return "{" + where + (both ? ", " : "") + more + "}";
}

std::string sensors_text(const From& from) {
  std::string text = "    - id: air\n      topic: " + from.value("air-topic") + "\n";
  if (from.has("humidity-at")) {
    text += "      humidity: " + place_in_message(from["humidity-at"]) + "\n";
  }
  if (from.has("temperature-at")) {
    text += "      temperature: " + place_in_message(from["temperature-at"], "place: air") + "\n";
  }
  if (from.has("co2-at")) text += "      co2: " + place_in_message(from["co2-at"]) + "\n";
  text += padded("      stale_after: 2m", "silent for longer, it drives nothing");
  if (!from.has("bed-topic")) {
    return text +
           "    # A thermometer in the substrate, which runs 1 to 3 C above its air:\n"
           "    # - {id: bed, topic: " +
           from["site"] + "/" + from["tub"] +
           "/bed, temperature: {place: substrate}, stale_after: 5m}\n";
  }
  const std::string unit = from["bed-unit"] == "C" ? "" : "unit: " + from["bed-unit"] + ", ";
  return text + "    - id: bed\n      topic: " + from.value("bed-topic") +
         "\n      temperature: " + place_in_message(from["bed-at"], unit + "place: substrate") +
         "\n      stale_after: 5m\n";
}

Duration floored(Duration d) { return d / kStep * kStep; }

/// A shortest run of at most a quarter of the band, and a longest of half of it.
std::string mister_limits(const From& from) {
  const auto rate = parse_amount(from["mister-rate"], Measure::water_rate);
  const auto litres = parse_amount(from["net-volume"], Measure::volume);
  if (!rate.ok() || !litres.ok()) return "";
  const auto run = [&](double share, Duration most) {
    // A weak mister's run may be hours long; what counts stands far below.
    const double pct_each_s = fit::rh_of_run(*rate, seconds(1), Litres{*litres}, kAt);
    const double longest_s = std::min(seconds_of(most), share * kBandPct / pct_each_s);
    return std::max(kStep, floored(from_seconds(longest_s)));
  };
  const Duration shortest = run(fit::kStepOfBand, kShortestMost);
  const Duration longest = std::max(shortest, run(kLongestOfBand, kLongestMost));
  return fmt::format(
      "      # By rate and air: a shortest run moves a quarter of a 5 % band at most, a longest "
      "half.\n"
      "      limits: {{shortest_run: {}, shortest_rest: 20s, longest_run: {}, starts_per_hour: "
      "120}}\n",
      amount_text(seconds_of(shortest), Measure::duration),
      amount_text(seconds_of(longest), Measure::duration));
}

/// A shortest run that moves a twentieth of the air at most; the usual one where that is longer.
std::string fan_limits(const From& from) {
  const auto rate = parse_amount(from["fan-rate"], Measure::air_rate);
  const auto litres = parse_amount(from["net-volume"], Measure::volume);
  if (!rate.ok() || !litres.ok()) return "";
  const Duration usual = default_limits(Effect::fresh_air).shortest_run;
  const double changes = fit::changes_of_run(*rate, usual, Litres{*litres});
  if (changes <= kFanShare) return "";
  const Duration shortest =
      std::max(kStep, floored(from_seconds(seconds_of(usual) * kFanShare / changes)));
  return fmt::format(
      "      limits: {{shortest_run: {}}}  # moves a twentieth of this air at most\n",
      amount_text(seconds_of(shortest), Measure::duration));
}

struct Switched {
  const char* part;  ///< of the answers
  const char* id;    ///< of the actuator
  const char* effect;
  const char* caution;  ///< comment lines, or empty
};

// In the words of config/chambers/closet.yaml.
constexpr Switched kSwitched[] = {
    {"mister", "mister", "humidify",
     "    # CAUTION, MISTER: it never sprays on plugs; mist carries what grows in its tank, so "
     "empty\n"
     "    # and clean it often; a stuck one floods, so give it a small tank.\n"},
    {"fan", "fan", "fresh_air", ""},
    {"heater", "mat", "heat",
     "    # CAUTION, HEATER: it has a thermal cut-out of its own, independent of relay, network "
     "and\n"
     "    # this program. Software is no fire protection.\n"},
};

std::string wiring_text(const From& from, const Switched& s) {
  const std::string part = s.part;
  if (from[part + "-driver"] == "simulated") {
    const std::string file = fmt::format("{}/{}-{}.runs", from["record"], from["tub"], s.id);
    return "      driver: simulated\n" +
           padded("      wiring: {file: " + yaml_value(file) + "}",
                  "a file that each change is written to; nothing is switched");
  }
  std::string wiring = "topic: " + from.value(part + "-topic") +
                       ", run: " + yaml_value(from[part + "-run"]) +
                       ", rest: " + yaml_value(from[part + "-rest"]);
  if (from.has(part + "-confirm")) wiring += ", confirm: " + from.value(part + "-confirm");
  const std::string falls = from[part + "-falls"];
  std::string text = "      driver: mqtt_relay\n      wiring: {" + wiring + "}\n";
  text += padded("      falls_by_itself_after: " + falls,
                 falls == "never" ? "the relay has no timer of its own: said in status"
                                  : "the relay's own timer, set in the relay");
  if (from.has(part + "-cut-out")) text += "      cut_out: " + from.value(part + "-cut-out") + "\n";
  return text;
}

std::string actuator_text(const From& from, const Switched& s) {
  const std::string part = s.part;
  return std::string(s.caution) + "    - id: " + s.id + "\n      effect: " + s.effect +
         "\n      rate: " + from[part + "-rate"] + "\n" + wiring_text(from, s) +
         padded("      safe: rest", "where it stands when nobody decides") +
         (part == "mister" ? mister_limits(from)
          : part == "fan"  ? fan_limits(from)
                           : "");
}

std::string tub_text(const From& from) {
  std::string text =
      "# One tub with its own lid, and so its own air. CAUTION, MAINS: water and mains stand side "
      "by\n"
      "# side here. What is on mains is wired and protected (RCD/GFCI, fuse, enclosure, earth) by "
      "a\n"
      "# licensed electrician under the local code. Prefer extra-low voltage beside spray.\n\n" +
      std::string("tub: ") + from.value("tub") + "\n" +
      padded("batch: " + from.value("batch"), "another name ends this batch's stay in the tub") +
      "profile: button\n" +
      padded("phase: " + from["phase"], "edit this line and save: the tub changes phase") +
      "substrate: " + from["substrate"] + "\n";
  const std::string ceiling = "substrate_ceiling: 26.5 C";
  text += from.has("bed-topic")
              ? padded(ceiling, "whatever the phase: heat and light locked off, fan called")
              : padded("# " + ceiling, "for a tub with a thermometer in its substrate");
  text += "\nair:\n" +
          padded("  net_volume: " + from["net-volume"], "air alone, without substrate and casing") +
          "  sensors:\n" + sensors_text(from);
  std::string actuators;
  for (const Switched& s : kSwitched) {
    if (from.has(std::string(s.part) + "-driver")) actuators += actuator_text(from, s);
  }
  return text + (actuators.empty() ? "  actuators: []\n" : "  actuators:\n" + actuators);
}

}  // namespace

std::vector<NewFile> new_folder(const InitAnswers& answers, const std::string& socket) {
  const From from(answers);
  return {{kProfileFile, std::string(shipped_button_profile())},
          {kSiteFile, site_text(from, socket)},
          {"tubs/" + from["tub"] + ".yaml", tub_text(from)}};
}

std::vector<std::string> button_phases() {
  constexpr std::string_view kBegins = "  - phase: ";
  std::vector<std::string> phases;
  std::string_view text = shipped_button_profile();
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    const std::string_view line = text.substr(0, end);
    if (line.starts_with(kBegins)) phases.emplace_back(line.substr(kBegins.size()));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return phases;
}

}  // namespace tubwarden
