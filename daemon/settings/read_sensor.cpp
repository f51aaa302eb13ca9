#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "core/sensing/guess.hpp"
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
  source.jump = s.difference("jump", measure);
  source.fastest_minute = s.difference("fastest", measure);
  return source;
}

Measured measured_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return Measured::humidity;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return Measured::temperature;
    case Quantity::co2:
      break;
  }
  return Measured::co2;
}

/// Points further from the truth than this are two jars mixed up, or another unit.
double farthest_off(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return 20.0;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return 10.0;
    case Quantity::co2:
      break;
  }
  return 1000.0;
}

/// Two sources of one sensor never share a key of `calibrate`: a temperature has one place.
void read_calibration(const Section& s, SensorPlan& plan) {
  for (const Measured what : {Measured::humidity, Measured::temperature, Measured::co2}) {
    const std::string key(name_of(what));
    const auto points = s.points(key);
    if (!points) continue;
    const auto source =
        std::find_if(plan.quantities.begin(), plan.quantities.end(),
                     [&](const QuantitySource& q) { return measured_of(q.quantity) == what; });
    if (source == plan.quantities.end()) {
      s.findings().error(s.key_at(key),
                         fmt::format("the sensor reads no {}; allowed: what it reads", key));
      continue;
    }
    const auto& [read_a, true_a, read_b, true_b] = *points;
    source->calibration = two_point({read_a, true_a}, {read_b, true_b});
    const double most = farthest_off(source->quantity);
    if (!source->calibration) {
      s.findings().error(s.at(key),
                         "the two points do not rise together; allowed: two readings "
                         "apart, and the higher one true of the higher");
    } else if (std::abs(read_a - true_a) > most || std::abs(read_b - true_b) > most) {
      s.findings().error(
          s.at(key), fmt::format("a point is more than {} {} off; allowed: less. Are read and true "
                                 "in this order, and the jars not mixed up?",
                                 trimmed(most), unit_of(source->quantity)));
    }
  }
}

void read_speaking(const Section& s, SensorPlan& plan) {
  plan.on_change = s.text("speaks") == "on_change";
  plan.at_least_every = s.duration("at_least_every");
  if (plan.on_change && !plan.at_least_every) {
    s.findings().error(
        s.at("speaks"),
        "a sensor on_change needs at_least_every: without it nobody can tell whether "
        "nothing changes or it is dead; allowed: at_least_every: 10m");
  }
  if (!plan.on_change && plan.at_least_every) {
    s.findings().error(s.key_at("at_least_every"),
                       "'at_least_every' goes with speaks: on_change; write that, or leave it out");
  }
  if (!plan.on_change || !plan.at_least_every) return;
  if (!s.has("stale_after")) {
    plan.stale_after = std::min<Duration>(*plan.at_least_every * 3 / 2, hours(24));
  } else if (plan.stale_after < *plan.at_least_every) {
    s.findings().error(
        s.at("stale_after"),
        "'stale_after' is shorter than at_least_every: it would be stale most of the "
        "time; allowed: longer than that");
  }
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
  read_speaking(s, plan);
  if (const auto known = s.section("calibrate")) read_calibration(*known, plan);
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
