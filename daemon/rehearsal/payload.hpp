// The inverse of decoding: what a sensor of this plan would say. Built from the same plan that the
// daemon reads, so that model and daemon cannot mean two things by one payload.
// Threading: plain values. Failure: a plan no payload can serve is an Error that names the topic.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "core/chamber/chamber_plan.hpp"

namespace tubwarden::rehearsal {

/// The raw number whose kept value is `kept`: the unit, the offset and the scale undone.
double raw_value(const QuantitySource& source, double kept);

/// One number of a payload, in the quantity's kept unit.
struct Said {
  const QuantitySource* source = nullptr;
  double kept = 0.0;
};

/// The payload: a plain number where the one source is the whole document, else a JSON object (or
/// array) by the pointers, with the stamp where one is planned. Numbers have 7 digits.
/// Error bad_input where two pointers cannot stand in one document.
Result<std::string> payload_of(const std::vector<Said>& said, const std::optional<StampPlan>& stamp,
                               WallTime wall);

/// The wiring of a relay behind the broker, as driver mqtt_relay takes it.
struct RelayWiring {
  std::string topic, run, rest;
  std::string confirm;  ///< empty: none

  /// What a payload says; nothing for neither of the two.
  std::optional<Level> level_of(std::string_view payload) const;
  const std::string& payload_of(Level level) const { return level == kRest ? rest : run; }
};
/// Error bad_input for wiring without topic, run and rest.
Result<RelayWiring> relay_wiring(const OutputPlan& output);

}  // namespace tubwarden::rehearsal
