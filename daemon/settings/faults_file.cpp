#include "settings/faults_file.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

/// `effect`: what its actuator must be; nothing: any.
struct FaultWord {
  std::string_view word;
  FaultPlace place;
  std::optional<Effect> effect;
};
constexpr FaultWord kFaultWords[] = {
    {"sensor_dead", FaultPlace::sensor, {}},
    {"sensor_gone", FaultPlace::sensor, {}},
    {"sensor_stuck", FaultPlace::sensor, {}},
    {"sensor_drifting", FaultPlace::sensor, {}},
    {"tank_empty", FaultPlace::actuator, Effect::humidify},
    {"fan_dead", FaultPlace::actuator, Effect::fresh_air},
    {"actuator_dead", FaultPlace::actuator, {}},
    {"output_unusable", FaultPlace::actuator, {}},
    {"lid_open", FaultPlace::air, {}},
    {"broker_gone", FaultPlace::site, {}},
    {"restart", FaultPlace::site, {}},
    {"daemon_hung", FaultPlace::site, {}},
    {"clock_jump", FaultPlace::site, {}},
};

const FaultWord* word_row(std::string_view word) {
  for (const FaultWord& row : kFaultWords) {
    if (row.word == word) return &row;
  }
  return nullptr;
}

/// Keys that this fault has no use for.
void refuse_keys(const Section& s, const FaultWord& row) {
  const bool drifts = row.word == "sensor_drifting", jumps = row.word == "clock_jump";
  const struct {
    std::string_view key;
    bool fits;
  } keys[] = {
      {"tub", row.place != FaultPlace::site},
      {"sensor", row.place == FaultPlace::sensor},
      {"actuator", row.place == FaultPlace::actuator},
      {"quantity", drifts},
      {"rises", drifts},
      {"falls", drifts},
      {"ahead", jumps},
      {"behind", jumps},
  };
  for (const auto& [key, fits] : keys) {
    if (fits || !s.has(key)) continue;
    s.findings().error(s.key_at(key), fmt::format("{} takes no '{}'; leave it out", row.word, key));
  }
}

const ChamberPlan* air_of(const GrowPlan& grow, const std::string& name) {
  const TubPlan* tub = grow.tub(name);
  return grow.chamber(tub != nullptr ? tub->chamber : name);
}

std::vector<std::string> air_names(const GrowPlan& grow) {
  std::vector<std::string> names;
  for (const TubPlan& tub : grow.tubs) names.push_back(tub.id);
  for (const ChamberPlan& chamber : grow.chambers) {
    if (grow.tub(chamber.id) == nullptr) names.push_back(chamber.id);
  }
  return names;
}

/// Finds the part by its name, or the only one that fits.
void take_part(const Section& s, std::string_view key, const std::vector<std::string>& ids,
               const std::vector<bool>& fits, const std::string& needed, FaultLine& out) {
  const auto given = s.text(key);
  std::vector<std::string> fitting;
  for (std::size_t i = 0; i < ids.size(); ++i) {
    if (fits[i]) fitting.push_back(ids[i]);
  }
  const auto wrong = [&](Place at, const std::string& what) {
    const std::string allowed =
        fitting.empty() ? "there is none" : known_words(given.value_or(""), fitting);
    s.findings().error(at, fmt::format("{}: {} of {}; {}", out.fault, what, out.chamber, allowed));
  };
  if (!given && s.has(key)) return;  // told already
  if (!given && fitting.size() != 1) {
    return wrong(s.node(), fmt::format("say which {} it is", needed));
  }
  out.part = given.value_or(fitting.empty() ? "" : fitting.front());
  const auto at = std::find(ids.begin(), ids.end(), out.part);
  out.index = static_cast<std::size_t>(at - ids.begin());
  if (at != ids.end() && fits[out.index]) return;
  wrong(s.at(key), fmt::format("'{}' is no {}", out.part, needed));
}

void take_sensor(const Section& s, const ChamberPlan& air, FaultLine& out) {
  std::vector<std::string> ids;
  for (const SensorPlan& sensor : air.sensors) ids.push_back(sensor.id);
  take_part(s, "sensor", ids, std::vector<bool>(ids.size(), true), "sensor", out);
}

void take_actuator(const Section& s, const ChamberPlan& air, const FaultWord& row, FaultLine& out) {
  std::vector<std::string> ids;
  std::vector<bool> fits;
  for (const ActuatorPlan& a : air.actuators) {
    ids.push_back(a.id);
    fits.push_back(!row.effect || a.effect == *row.effect);
  }
  const std::string needed =
      row.effect ? fmt::format("actuator that does {}", name_of(*row.effect)) : "actuator";
  take_part(s, "actuator", ids, fits, needed, out);
}

std::optional<Quantity> quantity_named(std::string_view name) {
  for (Quantity q : kAllQuantities) {
    if (name_of(q) == name) return q;
  }
  return std::nullopt;
}

void take_drift(const Section& s, const ChamberPlan& air, FaultLine& out) {
  if (out.index >= air.sensors.size()) return;
  std::vector<std::string> measured;
  for (const QuantitySource& source : air.sensors[out.index].quantities) {
    measured.emplace_back(name_of(source.quantity));
  }
  const auto given = s.text("quantity");
  if (!given && s.has("quantity")) return;
  if (!given && measured.size() != 1) {
    s.findings().error(s.node(), fmt::format("sensor_drifting: say which quantity of {} drifts; {}",
                                             out.part, known_words("", measured)));
    return;
  }
  const std::string name = given.value_or(measured.front());
  if (std::find(measured.begin(), measured.end(), name) == measured.end()) {
    s.findings().error(s.at("quantity"), fmt::format("{} does not measure '{}'; {}", out.part, name,
                                                     known_words(name, measured)));
    return;
  }
  out.quantity = quantity_named(name);
  if (s.has("rises") == s.has("falls")) {
    s.findings().error(s.node(),
                       "sensor_drifting: say how much with each day; allowed: rises: or "
                       "falls:, one of them");
    return;
  }
  const bool rises = s.has("rises");
  const double by =
      s.difference(rises ? "rises" : "falls", measure_of(*out.quantity)).value_or(0.0);
  out.amount = rises ? by : -by;
}

void take_jump(const Section& s, FaultLine& out) {
  if (s.has("ahead") == s.has("behind")) {
    s.findings().error(s.node(),
                       "clock_jump: say how far the clock is off; allowed: ahead: or "
                       "behind:, one of them");
    return;
  }
  const bool ahead = s.has("ahead");
  const double off_s = seconds_of(s.duration(ahead ? "ahead" : "behind").value_or(Duration{0}));
  out.amount = ahead ? off_s : -off_s;
}

FaultLine read_fault(const YamlNode& node, const GrowPlan& grow, FileFindings& findings) {
  const Section s(node, "fault", findings);
  FaultLine out;
  out.line = node.line;
  out.fault = s.text("fault").value_or("");
  out.at = s.duration("at").value_or(Duration{0});
  out.lasts = s.duration("for").value_or(Duration{0});
  const FaultWord* row = word_row(out.fault);
  if (row == nullptr) return out;  // told already
  out.place = row->place;
  refuse_keys(s, *row);
  if (out.fault == "clock_jump") take_jump(s, out);
  if (row->place == FaultPlace::site) return out;
  const auto tub = s.text("tub");
  const bool one_air = grow.chambers.size() == 1;
  if (!tub && !one_air && row->place != FaultPlace::air && !s.has("tub")) {
    findings.error(node, fmt::format("{}: say in which air, as tub: NAME; {}", out.fault,
                                     known_words("", air_names(grow))));
  }
  if (!tub && !one_air) return out;
  const ChamberPlan* air = tub ? air_of(grow, *tub) : &grow.chambers.front();
  if (air == nullptr) {
    findings.error(s.at("tub"), fmt::format("'{}' is no tub and no chamber; {}", *tub,
                                            known_words(*tub, air_names(grow))));
    return out;
  }
  out.chamber = air->id;
  if (row->place == FaultPlace::sensor) take_sensor(s, *air, out);
  if (row->place == FaultPlace::actuator) take_actuator(s, *air, *row, out);
  if (out.fault == "sensor_drifting") take_drift(s, *air, out);
  return out;
}

}  // namespace

std::optional<FaultPlace> fault_place(std::string_view word) {
  const FaultWord* row = word_row(word);
  return row != nullptr ? std::optional(row->place) : std::nullopt;
}

std::vector<FaultLine> read_faults(const std::string& text, const std::string& file,
                                   const GrowPlan& grow, std::vector<Finding>& findings) {
  std::vector<FaultLine> faults;
  const YamlFile tree = read_yaml(text, file, findings);
  if (!tree.parsed) return faults;
  FileFindings told(file, findings);
  const Section s(tree.root, "faults", told);
  const auto items = s.list("faults");
  if (items.size() > kFaultsMax) {
    told.error(s.at("faults"),
               fmt::format("{} faults; allowed: at most {}", items.size(), kFaultsMax));
    return faults;
  }
  for (const YamlNode* item : items) faults.push_back(read_fault(*item, grow, told));
  return faults;
}

}  // namespace tubwarden
