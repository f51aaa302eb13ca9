#include <fmt/format.h>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

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

std::string_view units_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "%";
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return "C, F, K";
    case Quantity::co2:
      break;
  }
  return "ppm, %";
}

/// What a sensor of the trade can say at all; a number outside is an error code or a fault.
Bounds usual_range(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return {0, 100};
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return {-20, 80};
    case Quantity::co2:
      break;
  }
  return {0, 10000};
}

Quantity temperature_of(const Section& s) {
  const auto place = s.text("place");
  if (!s.has("place")) {
    s.findings().error(s.node(),
                       "a temperature needs its place; write place: air or place: substrate, which "
                       "are kept by different rules");
  }
  return place == "substrate" ? Quantity::substrate_temperature : Quantity::air_temperature;
}

QuantitySource read_quantity(const Section& s, std::string_view key) {
  Quantity quantity = key == "humidity" ? Quantity::humidity : Quantity::co2;
  if (key == "temperature") {
    quantity = temperature_of(s);
  } else if (s.has("place")) {
    s.findings().error(s.key_at("place"), "'place' is for temperatures; leave it out here");
  }
  QuantitySource source = read_unit(s, key, quantity);
  source.at = s.text("at").value_or("");
  source.scale = s.number("scale").value_or(1.0);
  source.offset = s.number("offset").value_or(0.0);
  if (source.scale == 0.0) {
    s.findings().error(s.at("scale"), "a 'scale' of 0 would lose the reading; allowed: any other");
  }
  const Measure measure = measure_of(quantity);
  if (const auto range = s.pair("range", measure)) {
    source.range_low = (*range)[0];
    source.range_high = (*range)[1];
  }
  source.accuracy = s.difference("accuracy", measure);
  source.step = s.difference("step", measure);
  return source;
}

}  // namespace

Measure measure_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return Measure::humidity;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return Measure::temperature;
    case Quantity::co2:
      break;
  }
  return Measure::co2;
}

QuantitySource read_unit(const Section& s, std::string_view key, Quantity quantity) {
  QuantitySource source;
  source.quantity = quantity;
  const std::string unit = s.text("unit").value_or("");
  source.unit = unit_named(unit, quantity);
  if (!unit.empty() && !unit_fits(source.unit, quantity)) {
    s.findings().error(s.at("unit"), fmt::format("'{}' is no unit of {}; allowed: {}", unit, key,
                                                 units_of(quantity)));
  }
  const Bounds usual = usual_range(quantity);
  source.range_low = usual.low;
  source.range_high = usual.high;
  return source;
}

SensorPlan read_sensor(const YamlNode& node, FileFindings& findings) {
  const Section s(node, "sensor", findings);
  SensorPlan plan;
  plan.id = s.text("id").value_or("");
  plan.topic = s.text("topic").value_or("");
  plan.stale_after = s.duration("stale_after").value_or(minutes(2));
  for (const char* key : {"humidity", "temperature", "co2"}) {
    if (const auto q = s.section(key)) plan.quantities.push_back(read_quantity(*q, key));
  }
  if (plan.quantities.empty() && node.kind == YamlNode::Kind::map) {
    findings.error(node, "the sensor reads nothing; give it humidity, temperature or co2");
  }
  if (const auto time = s.section("time")) {
    const std::string form = time->text("form").value_or("");
    plan.time = StampPlan{time->text("at").value_or(""), form == "unix_ms"   ? StampForm::unix_ms
                                                         : form == "rfc3339" ? StampForm::rfc3339
                                                                             : StampForm::unix_s};
  }
  if (const auto gone = s.section("gone")) {
    plan.gone = GonePlan{gone->text("topic").value_or(""), gone->text("says").value_or("")};
  }
  return plan;
}

}  // namespace tubwarden
