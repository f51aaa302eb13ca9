#include "simulated/draw_trouble.hpp"

#include <algorithm>
#include <iterator>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr Fault::Kind kKinds[] = {
    Fault::Kind::sensor_dead, Fault::Kind::sensor_gone,     Fault::Kind::sensor_stuck,
    Fault::Kind::broker_away, Fault::Kind::actuator_dead,   Fault::Kind::lid_open,
    Fault::Kind::daemon_away, Fault::Kind::output_unusable, Fault::Kind::daemon_hung,
    Fault::Kind::clock_jump,  Fault::Kind::sensor_drifting,
};

std::size_t one_of(Dice& dice, std::size_t count) {
  return count == 0 ? 0 : static_cast<std::size_t>(dice.whole(0, static_cast<int>(count) - 1));
}

/// Kept units an hour: from what age does to what a wetted element does.
double draw_drift(Dice& dice, Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return dice.between(-20.0, 20.0);
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return dice.between(-4.0, 4.0);
    case Quantity::co2:
      return dice.between(-500.0, 500.0);
  }
  ENSURE(false);
}

Fault draw_fault(Dice& dice, const ChamberPlan& chamber, Duration length) {
  Fault fault;
  fault.kind = kKinds[one_of(dice, std::size(kKinds))];
  const FaultOf of = place_of(fault.kind);
  if (of == FaultOf::sensor) fault.index = one_of(dice, chamber.sensors.size());
  if (of == FaultOf::actuator) fault.index = one_of(dice, chamber.actuators.size());
  fault.from = time_between(dice, Duration{0}, length);
  fault.to = fault.from + time_between(dice, milliseconds(200),
                                       dice.chance(0.5) ? seconds(30) : Duration(minutes(40)));
  if (fault.kind == Fault::Kind::clock_jump) fault.amount = dice.between(-90000.0, 90000.0);
  if (fault.kind == Fault::Kind::sensor_drifting) {
    const auto& quantities = chamber.sensors[fault.index].quantities;
    fault.quantity = quantities[one_of(dice, quantities.size())].quantity;
    fault.amount = draw_drift(dice, *fault.quantity);
    fault.to = fault.from + time_between(dice, minutes(10), hours(6));
  }
  // A tank stays empty until somebody looks.
  if (fault.kind == Fault::Kind::actuator_dead && dice.chance(0.3)) fault.to += hours(6);
  return fault;
}

HandStep draw_hand(Dice& dice, const ChamberPlan& chamber, Duration length) {
  constexpr HandKind kinds[] = {HandKind::attend, HandKind::keep_at, HandKind::trial};
  HandStep hand;
  hand.at = time_between(dice, Duration{0}, length);
  hand.length = time_between(dice, seconds(5), minutes(40));
  hand.kind = chamber.actuators.empty() ? HandKind::attend : kinds[one_of(dice, std::size(kinds))];
  switch (hand.kind) {
    case HandKind::attend:
      break;
    case HandKind::keep_at:
      hand.actuator = one_of(dice, chamber.actuators.size());
      hand.level = dice.chance(0.5) ? kRun : kRest;
      break;
    case HandKind::trial: {
      // Within the limits, as `try` refuses others.
      hand.actuator = one_of(dice, chamber.actuators.size());
      hand.level = kRun;
      const RunLimits& limits = chamber.actuators[hand.actuator].limits;
      const Duration shortest = std::max(limits.shortest_run, Duration{seconds(1)});
      hand.length = time_between(dice, shortest, shortest + seconds(30));
      if (limits.longest_run > Duration{0}) {
        hand.length = std::min(hand.length, limits.longest_run);
      }
      break;
    }
  }
  return hand;
}

}  // namespace

Duration time_between(Dice& dice, Duration low, Duration high) {
  return low + from_seconds(seconds_of(high - low) * dice.unit());
}

void draw_trouble(Dice& dice, WorldPlan& plan, Duration length) {
  const int faults = dice.whole(0, 12);
  for (int i = 0; i < faults; ++i) plan.faults.push_back(draw_fault(dice, plan.chamber, length));
  const int hands = std::max(0, dice.whole(-3, 6));
  for (int i = 0; i < hands; ++i) plan.hands.push_back(draw_hand(dice, plan.chamber, length));
  std::sort(plan.hands.begin(), plan.hands.end(),
            [](const HandStep& a, const HandStep& b) { return a.at < b.at; });
}

}  // namespace tubwarden::rehearsal
