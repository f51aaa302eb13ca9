#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

// --- sensors ------------------------------------------------------------------------------------

struct UsualRange {
  double low, high;
};

/// What a sensor of the trade can say at all; a number outside is an error code or a fault.
UsualRange usual_range(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return {0.0, 100.0};
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return {-20.0, 80.0};
    case Quantity::co2:
      break;
  }
  return {0.0, 10000.0};
}

SensorUnit unit_named(const std::string& unit, Quantity q) {
  if (unit == "C") return SensorUnit::celsius;
  if (unit == "F") return SensorUnit::fahrenheit;
  if (unit == "K") return SensorUnit::kelvin;
  if (unit == "%") return SensorUnit::percent;
  if (unit == "ppm") return SensorUnit::ppm;
  if (q == Quantity::humidity) return SensorUnit::percent;
  return q == Quantity::co2 ? SensorUnit::ppm : SensorUnit::celsius;
}

bool unit_fits(SensorUnit unit, Quantity q) {
  switch (unit) {
    case SensorUnit::percent:
      return q == Quantity::humidity || q == Quantity::co2;
    case SensorUnit::ppm:
      return q == Quantity::co2;
    case SensorUnit::celsius:
    case SensorUnit::fahrenheit:
    case SensorUnit::kelvin:
      break;
  }
  return q == Quantity::air_temperature || q == Quantity::substrate_temperature;
}

Quantity quantity_at(const Section& s, std::string_view key) {
  if (key == "humidity") return Quantity::humidity;
  if (key == "co2") return Quantity::co2;
  const bool substrate =
      row_of("quantity", "place") != nullptr && s.has("place") && s.at("place").text == "substrate";
  return substrate ? Quantity::substrate_temperature : Quantity::air_temperature;
}

SensorPlan read_sensor(const YamlNode& node, FileFindings& findings) {
  const Section s(node, "sensor", findings);
  SensorPlan plan;
  plan.id = s.text("id").value_or("");
  plan.topic = s.text("topic").value_or("");
  plan.stale_after = s.duration("stale_after").value_or(minutes(2));
  for (const char* key : {"humidity", "temperature", "co2"}) {
    const auto q = s.section(key, "quantity");
    if (!q) continue;
    QuantitySource source = read_quantity(*q, key);
    source.at = q->text("at").value_or("");
    source.scale = q->number("scale").value_or(1.0);
    source.offset = q->number("offset").value_or(0.0);
    if (source.scale == 0.0) findings.error(q->at("scale"), "a scale of 0 would lose the reading");
    const Measure measure = measure_of(source.quantity);
    if (const auto range = q->pair("range", measure)) {
      source.range_low = (*range)[0];
      source.range_high = (*range)[1];
    }
    source.accuracy = q->amount("accuracy", measure);
    source.step = q->amount("step", measure);
    if (std::string_view(key) == "temperature") {
      q->text("place");
      if (!q->has("place")) {
        findings.error(
            q->node(),
            "a temperature needs its place: air or substrate; they are kept by different "
            "rules");
      }
    } else if (q->has("place")) {
      findings.error(q->key_at("place"), "place is for temperatures");
    }
    plan.quantities.push_back(std::move(source));
  }
  if (plan.quantities.empty() && node.kind == YamlNode::Kind::map) {
    findings.error(node, "the sensor reads nothing; give humidity, temperature or co2");
  }
  if (const auto time = s.section("time", "time")) {
    StampPlan stamp;
    stamp.at = time->text("at").value_or("");
    const std::string form = time->text("form").value_or("");
    stamp.form = form == "unix_ms"   ? StampForm::unix_ms
                 : form == "rfc3339" ? StampForm::rfc3339
                                     : StampForm::unix_s;
    plan.time = stamp;
  }
  if (const auto gone = s.section("gone", "gone")) {
    plan.gone = GonePlan{gone->text("topic").value_or(""), gone->text("says").value_or("")};
  }
  return plan;
}

// --- actuators ----------------------------------------------------------------------------------

Effect effect_named(const std::string& name) {
  for (Effect effect : {Effect::humidify, Effect::dehumidify, Effect::heat, Effect::cool,
                        Effect::fresh_air, Effect::stir, Effect::light}) {
    if (name_of(effect) == name) return effect;
  }
  return Effect::humidify;
}

Measure rate_measure(Effect effect) {
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return Measure::water_rate;
    case Effect::fresh_air:
    case Effect::stir:
      return Measure::air_rate;
    case Effect::heat:
    case Effect::cool:
    case Effect::light:
      break;
  }
  return Measure::power;
}

RunLimits read_limits(const Section& actuator, Effect effect) {
  RunLimits limits = default_limits(effect);
  const auto s = actuator.section("limits", "limits");
  if (!s) return limits;
  limits.shortest_run = s->duration("shortest_run").value_or(limits.shortest_run);
  limits.shortest_rest = s->duration("shortest_rest").value_or(limits.shortest_rest);
  limits.longest_run = s->duration("longest_run").value_or(limits.longest_run);
  limits.starts_per_hour =
      static_cast<int>(s->number("starts_per_hour").value_or(limits.starts_per_hour));
  if (limits.longest_run > Duration{0} && limits.shortest_run > limits.longest_run) {
    s->findings().error(s->node(), "shortest_run is longer than longest_run");
  }
  return limits;
}

void read_fall(const Section& s, ActuatorPlan& plan, const PluginDescription* plugin) {
  OutputPlan& output = plan.output;
  output.network = plugin && plugin->network;
  const bool given = s.has("falls_by_itself_after");
  const bool never = given && s.at("falls_by_itself_after").text == "never";
  if (given && !never) output.falls_by_itself_after = s.duration("falls_by_itself_after");
  if (plugin && given && !output.network) {
    s.findings().error(
        s.key_at("falls_by_itself_after"),
        fmt::format("{} switches an output of this board; falls_by_itself_after is for "
                    "network outputs",
                    plugin->name));
  }
  if (plugin && output.network && !given) {
    s.findings().error(
        s.node(),
        "a network output needs falls_by_itself_after: the time after which the relay "
        "itself falls safe (10s), or never");
  }
  const bool heats = plan.effect == Effect::heat || plan.effect == Effect::light;
  if (never && plan.effect == Effect::heat && !s.has("cut_out")) {
    s.findings().error(
        s.at("falls_by_itself_after"),
        "a heater that never falls by itself is refused: a lost network would leave it "
        "on. Give it a relay with a timer, or declare the independent thermal cut-out "
        "with cut_out: \"what cuts it off\"");
  } else if (never) {
    s.findings().warning(
        s.at("falls_by_itself_after"),
        fmt::format("{} has no timer of its own: if relay and broker are cut off from "
                    "each other while it runs, it goes on running{}",
                    plan.id, heats ? "; a thermal cut-out must stop it" : ""));
  }
}

ActuatorPlan read_actuator(const YamlNode& node, const PluginCatalogue& plugins,
                           FileFindings& findings) {
  const Section s(node, "actuator", findings);
  ActuatorPlan plan;
  plan.id = s.text("id").value_or("");
  plan.effect = effect_named(s.text("effect").value_or(""));
  plan.rate = s.amount("rate", rate_measure(plan.effect));
  if (plan.effect == Effect::fresh_air && !s.has("rate")) {
    findings.error(node, "a fan needs its rate (2 m3/h): the fresh-air floor is counted by it");
  }
  plan.limits = read_limits(s, plan.effect);
  OutputPlan& output = plan.output;
  output.driver = s.text("driver").value_or("");
  output.wiring_json = read_wiring(s, output.driver, false, plugins);
  output.safe = s.level("safe").value_or(kRest);
  output.lease = s.duration("lease").value_or(seconds(15));
  output.own_process = s.flag("own_process").value_or(false);
  if (s.has("cut_out")) s.text("cut_out");
  const auto plugin = plugins.find(output.driver);
  read_fall(s, plan, plugin == plugins.end() ? nullptr : &plugin->second);
  return plan;
}

// --- wiring -------------------------------------------------------------------------------------

Json json_of(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::empty:
      return nullptr;
    case YamlNode::Kind::scalar:
      return node.text;
    case YamlNode::Kind::list: {
      Json list = Json::array();
      for (const YamlNode& item : node.items) list.push_back(json_of(item));
      return list;
    }
    case YamlNode::Kind::map:
      break;
  }
  Json map = Json::object();
  for (const auto& [key, value] : node.members) map[key.text] = json_of(value);
  return map;
}

bool fits_words(const std::string& text, const std::string& range) {
  if (range.find('|') == std::string::npos) return true;
  return ("|" + range + "|").find("|" + text + "|") != std::string::npos;
}

void check_option(const YamlNode& value, const PluginOption& option, FileFindings& findings) {
  const bool list = option.type == "list";
  if ((list && value.kind != YamlNode::Kind::list) ||
      (!list && value.kind != YamlNode::Kind::scalar)) {
    findings.error(value,
                   fmt::format("'{}' takes a {}: {}", option.name, option.type, option.help));
    return;
  }
  const std::string& text = value.text;
  const auto wrong = [&](const std::string& allowed) {
    findings.error(value, fmt::format("'{}' is not allowed for '{}'; allowed: {}", text,
                                      option.name, allowed));
  };
  if (option.type == "duration" && !parse_duration(text).ok()) {
    wrong(std::string(allowed_units(Measure::duration)));
  } else if (option.type == "boolean" && text != "true" && text != "false") {
    wrong("true, false");
  } else if (option.type == "number" || option.type == "integer") {
    char* end = nullptr;
    const double number = std::strtod(text.c_str(), &end);
    const std::size_t dots = option.range.find("..");
    const bool bounded = dots != std::string::npos;
    const bool fits = !bounded || (number >= std::atof(option.range.c_str()) &&
                                   number <= std::atof(option.range.c_str() + dots + 2));
    if (text.empty() || *end != '\0' || !fits) {
      wrong(bounded ? option.range : "a " + option.type);
    }
  } else if (!fits_words(text, option.range)) {
    wrong(option.range);
  }
}

}  // namespace

QuantitySource read_quantity(const Section& s, std::string_view key) {
  QuantitySource source;
  source.quantity = quantity_at(s, key);
  const std::string unit = s.text("unit").value_or("");
  source.unit = unit_named(unit, source.quantity);
  if (!unit.empty() && !unit_fits(source.unit, source.quantity)) {
    s.findings().error(s.at("unit"), fmt::format("'{}' is no unit of {}; allowed: {}", unit, key,
                                                 key == "humidity" ? "%"
                                                 : key == "co2"    ? "ppm, %"
                                                                   : "C, F, K"));
  }
  const UsualRange usual = usual_range(source.quantity);
  source.range_low = usual.low;
  source.range_high = usual.high;
  return source;
}

std::string read_wiring(const Section& owner, const std::string& plugin, bool is_channel,
                        const PluginCatalogue& plugins) {
  const YamlNode& wiring = owner.at("wiring");
  if (!owner.has("wiring") || plugin.empty()) return "{}";
  FileFindings& findings = owner.findings();
  if (wiring.kind != YamlNode::Kind::map) {
    findings.error(wiring, "wiring takes a section: {topic: ..., run: ...}");
    return "{}";
  }
  const char* where = is_channel ? "plugin" : "driver";
  const auto found = plugins.find(plugin);
  if (found == plugins.end() || found->second.is_channel != is_channel) {
    if (plugins.empty()) {
      findings.warning(owner.at(where), "no plugins were found, so the wiring is not checked");
      return json_of(wiring).dump();
    }
    std::vector<std::string> known;
    for (const auto& [name, description] : plugins) {
      if (description.is_channel == is_channel) known.push_back(name);
    }
    findings.error(owner.at(where), fmt::format("no {} is called '{}'; {}", where, plugin,
                                                known_words(plugin, known)));
    return "{}";
  }
  std::vector<std::string> names;
  for (const PluginOption& option : found->second.options) names.push_back(option.name);
  for (const auto& [key, value] : wiring.members) {
    const PluginOption* option = nullptr;
    for (const PluginOption& o : found->second.options) {
      if (o.name == key.text) option = &o;
    }
    if (option) {
      check_option(value, *option, findings);
    } else {
      findings.error(
          key, fmt::format("{} knows no '{}'; {}", plugin, key.text, known_words(key.text, names)));
    }
  }
  for (const PluginOption& option : found->second.options) {
    const bool given = std::any_of(wiring.members.begin(), wiring.members.end(),
                                   [&](const auto& m) { return m.first.text == option.name; });
    if (!given && !option.fallback) {
      findings.error(wiring, fmt::format("{} needs '{}': {}", plugin, option.name, option.help));
    }
  }
  return json_of(wiring).dump();
}

void read_air(const Section& air, ChamberPlan& plan, const PluginCatalogue& plugins) {
  FileFindings& findings = air.findings();
  const YamlNode& volume = air.at("net_volume");
  if (air.has("net_volume") && volume.kind == YamlNode::Kind::map) {
    for (const auto& [phase, amount] : volume.members) {
      const auto litres = parse_amount(amount.text, Measure::volume);
      if (!litres.ok() || *litres <= 0) {
        findings.error(amount,
                       litres.ok() ? "a volume must be more than 0 L" : litres.error().text);
        continue;
      }
      plan.net_volume.litres_in_phase[phase.text] = *litres;
      plan.net_volume.litres = std::max(plan.net_volume.litres, *litres);
    }
  } else {
    plan.net_volume.litres = air.amount("net_volume", Measure::volume).value_or(0.0);
  }
  for (const YamlNode* item : air.list("sensors")) {
    SensorPlan sensor = read_sensor(*item, findings);
    for (const SensorPlan& other : plan.sensors) {
      if (other.id == sensor.id) {
        findings.error(*item, fmt::format("sensor '{}' stands here a second time", sensor.id));
      }
    }
    plan.sensors.push_back(std::move(sensor));
  }
  for (const YamlNode* item : air.list("actuators")) {
    ActuatorPlan actuator = read_actuator(*item, plugins, findings);
    for (const ActuatorPlan& other : plan.actuators) {
      if (other.id == actuator.id) {
        findings.error(*item, fmt::format("actuator '{}' stands here a second time", actuator.id));
      }
    }
    actuator.output.id = {plan.id, actuator.id};
    plan.actuators.push_back(std::move(actuator));
  }
}

}  // namespace tubwarden
