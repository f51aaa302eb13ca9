#include "programs/cli/kitchen_probe.hpp"

#include <fmt/format.h>

#include "base/text.hpp"
#include "core/sensing/decode.hpp"
#include "programs/cli/ear.hpp"

namespace tubwarden::cli {
namespace {

constexpr double kProbeLeast = -50.0, kProbeMost = 160.0;

SensorPlan plan_of(const KitchenProbe& wanted) {
  QuantitySource source;
  source.quantity = Quantity::air_temperature;
  source.at = wanted.at;
  source.unit = wanted.unit == "F"   ? SensorUnit::fahrenheit
                : wanted.unit == "K" ? SensorUnit::kelvin
                                     : SensorUnit::celsius;
  source.range_low = kProbeLeast;
  source.range_high = kProbeMost;
  SensorPlan plan;
  plan.id = "probe";
  plan.topic = wanted.topic;
  plan.quantities = {source};
  return plan;
}

std::string line_of(const LethalityWatch& watch, std::uint64_t refused, double wanted_f0,
                    Duration lasted) {
  std::string line = spoken(duration_cast<seconds>(lasted));
  if (watch.last()) {
    line += fmt::format("  {:.1f} C  F0 {:.1f} of {} min", watch.last()->t.value, watch.so_far().f0,
                        trimmed(wanted_f0, 1));
    if (watch.so_far().f0 >= wanted_f0) line += ": reached";
  } else {
    line += "  nothing heard yet";
  }
  return refused > 0 ? line + fmt::format("  ({} not readable)", refused) : line;
}

}  // namespace

Result<Sum> watch_probe(const KitchenProbe& wanted,
                        const std::function<void(const std::string& line)>& told) {
  const SensorPlan plan = plan_of(wanted);
  LethalityWatch watch;
  std::uint64_t refused = 0;
  const auto take = [&](const BrokerMessage& m) {
    if (m.retained) return;  // nobody knows how old it is
    const Decoded decoded = decode(plan, m.payload, std::nullopt);
    const DecodedQuantity& t = decoded[Quantity::air_temperature];
    if (t.state == DecodedQuantity::State::taken) {
      watch.add({m.arrived.time_since_epoch(), Celsius{t.value}});
    } else {
      ++refused;
    }
  };
  const auto tick = [&](Duration lasted, Duration) {
    if (told) told(line_of(watch, refused, wanted.f0, lasted));
    return true;
  };
  const auto heard = hear({wanted, wanted.topic, wanted.length, take, tick});
  if (!heard.ok()) return heard.error();
  if (watch.readings() == 0) {
    return Error{ErrorCode::unavailable,
                 fmt::format("no temperature came on '{}' in {}{}. What the broker carries: "
                             "tubwarden listen",
                             wanted.topic, spoken(duration_cast<seconds>(heard->lasted)),
                             refused == 0 ? ""
                                          : fmt::format(" ({} messages were not one; say where it "
                                                        "stands with --at)",
                                                        refused))};
  }
  Sum sum = watch.sum(wanted.f0);
  if (!heard->lost.empty()) {
    sum.says.push_back(fmt::format("The broker went away meanwhile ({}).", heard->lost));
  }
  return sum;
}

}  // namespace tubwarden::cli
