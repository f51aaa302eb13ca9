#include "rehearsal/payload.hpp"

#include <fmt/core.h>

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden::rehearsal {
namespace {

using Json = nlohmann::json;

std::string number(double raw) { return fmt::format("{:.7g}", raw); }

Json stamp_value(StampForm form, WallTime wall) {
  const auto ms = wall.time_since_epoch().count();
  switch (form) {
    case StampForm::unix_s:
      return static_cast<double>(ms) / 1000.0;
    case StampForm::unix_ms:
      return ms;
    case StampForm::rfc3339:
      return rfc3339(wall);
  }
  ENSURE(false);
}

}  // namespace

double raw_value(const QuantitySource& source, double kept) {
  double measured = kept;
  switch (source.unit) {
    case SensorUnit::fahrenheit:
      measured = kept * 1.8 + 32.0;
      break;
    case SensorUnit::kelvin:
      measured = kept + 273.15;
      break;
    case SensorUnit::percent:
      if (source.quantity == Quantity::co2) measured = kept / 10000.0;
      break;
    case SensorUnit::celsius:
    case SensorUnit::ppm:
      break;
  }
  ENSURE(source.scale != 0.0);
  return (measured - source.offset) / source.scale;
}

Result<std::string> payload_of(const std::vector<Said>& said, const std::optional<StampPlan>& stamp,
                               WallTime wall) {
  if (said.size() == 1 && said.front().source->at.empty() && !stamp) {
    return number(raw_value(*said.front().source, said.front().kept));
  }
  Json document;
  const auto place = [&](const std::string& at, Json value) -> Outcome {
    try {
      Json& member = document[Json::json_pointer(at)];
      if (!member.is_null()) {
        return Error{ErrorCode::bad_input, fmt::format("'{}' stands twice in one payload", at)};
      }
      member = std::move(value);
    } catch (const Json::exception&) {
      return Error{ErrorCode::bad_input,
                   fmt::format("'{}' cannot stand beside the payload's other members", at)};
    }
    return Done{};
  };
  for (const Said& each : said) {
    const std::string raw = number(raw_value(*each.source, each.kept));
    const Outcome placed = place(each.source->at, std::strtod(raw.c_str(), nullptr));
    if (!placed) return placed.error();
  }
  if (stamp) {
    const Outcome placed = place(stamp->at, stamp_value(stamp->form, wall));
    if (!placed) return placed.error();
  }
  return document.dump();
}

std::optional<Level> RelayWiring::level_of(std::string_view payload) const {
  if (payload == run) return kRun;
  if (payload == rest) return kRest;
  return std::nullopt;
}

Result<RelayWiring> relay_wiring(const OutputPlan& output) {
  const Json wiring = Json::parse(output.wiring_json, nullptr, false);
  const auto text = [&](const char* key) {
    const bool there = wiring.is_object() && wiring.contains(key) && wiring[key].is_string();
    return there ? wiring[key].get<std::string>() : std::string();
  };
  RelayWiring relay{text("topic"), text("run"), text("rest"), text("confirm")};
  if (relay.topic.empty() || relay.run == relay.rest) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{}/{}: the wiring needs a topic and two payloads, run and rest",
                             output.id.chamber, output.id.actuator)};
  }
  return relay;
}

}  // namespace tubwarden::rehearsal
