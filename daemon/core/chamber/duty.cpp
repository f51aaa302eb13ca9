// The slow duty of heaters and coolers that keep the substrate.

#include "core/chamber/duty.hpp"

#include <algorithm>
#include <cmath>

#include "core/chamber/wish.hpp"

namespace tubwarden {
namespace {

constexpr Quantity kBed = Quantity::substrate_temperature;
constexpr Duration kDutyToldEvery = minutes(10);
/// K/h: less is not worth a write.
constexpr double kDutyWorthTelling = 0.05;

double bed_kg(const Chamber::State& s) {
  double kg = 0.0;
  for (const TubState& tub : s.tubs) kg += tub.plan.substrate_kg.value_or(0.0);
  return kg;
}

/// K/h of all outputs of an effect that obey, each at its most.
double reach_of(const Chamber::State& s, Effect effect) {
  double watts = 0.0, usual = 0.0;
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    const ActuatorPlan& a = s.plan.actuators[i];
    if (a.effect != effect || !s.actuators[i].usable) continue;
    const double most = static_cast<double>(a.duty.most) / kRun;
    watts += a.rate.value_or(0.0) * most;
    usual = std::max(usual, most);
  }
  if (usual <= 0.0) return 0.0;
  const double kg = bed_kg(s);
  return watts > 0.0 && kg > 0.0 ? substrate_rise(watts, kg) : substrate_rise(0.0, 0.0) * usual;
}

/// Whether what the bed does says what its duty does: nobody and no limit holds an output of it.
bool obeyed(const Chamber::State& s) {
  if (s.ceiling_holds()) return false;
  for (std::size_t i = 0; i < s.actuators.size(); ++i) {
    const ActuatorPlan& a = s.plan.actuators[i];
    if (!s.by_duty(a)) continue;
    if (!s.actuators[i].usable || s.actuators[i].reason.lock != Lock::none) return false;
    if (s.hand(HandKind::trial, a.id) || s.hand(HandKind::keep_at, a.id)) return false;
  }
  return true;
}

}  // namespace

bool Chamber::State::by_duty(const ActuatorPlan& actuator) const {
  return plan.control == Control::portions && of(kBed).kept &&
         (actuator.effect == Effect::heat || actuator.effect == Effect::cool);
}

void Chamber::State::steer_duty(Instant now) {
  std::erase_if(duties.cycles, [&](const auto& cycle) {
    return std::none_of(plan.actuators.begin(), plan.actuators.end(),
                        [&](const ActuatorPlan& a) { return a.id == cycle.first && by_duty(a); });
  });
  const QuantityState& bed = of(kBed);
  if (hand(HandKind::attend)) duties.attended = now;
  // The probe may have been in somebody's hand: what it said then is not of the bed.
  if (plan.control != Control::portions || !bed.kept || !bed.sensed ||
      bed.sensed->seen <= duties.attended) {
    duties.law.forget();
    return;
  }
  duties.law.follow(bed.sensed->value, bed.kept->band,
                    {reach_of(*this, Effect::heat), reach_of(*this, Effect::cool)}, obeyed(*this),
                    now);
}

void Chamber::State::take_known(const event::DutyKnown& known) {
  for (const ActuatorPlan& a : plan.actuators) {
    if (a.id != known.actuator || (a.effect != Effect::heat && a.effect != Effect::cool)) continue;
    duties.law.held(known.k_per_h);
    duties.told = duties.law.held();
  }
}

void Chamber::State::tell_duty(Effects& effects, Instant now) {
  const double held = duties.law.held();
  if (!duties.law.known() || now < duties.told_at + kDutyToldEvery) return;
  if (std::fabs(held - duties.told) < kDutyWorthTelling) return;
  for (const ActuatorPlan& a : plan.actuators) {
    if (!by_duty(a)) continue;
    effects.duties.push_back({a.id, held});
    duties.told = held;
    duties.told_at = now;
    return;
  }
}

Wish duty_wish(Chamber::State& s, const ActuatorPlan& plan, Effects& effects, Instant now) {
  const QuantityState& bed = s.of(kBed);
  if (!bed.sensed || !s.duties.law.known()) {
    s.duties.cycles.erase(plan.id);
    return safely(Why::no_reading, kBed);
  }
  const Band& band = bed.kept->band;
  const double value = bed.sensed->value;
  const bool heats = plan.effect == Effect::heat;
  const bool past = heats ? value > band.high : value < band.low;
  // Where both are there, none undoes the other: nothing is cooled that is not too warm.
  const double rise = s.duties.law.rise();
  const double able = reach_of(s, plan.effect);
  const bool asked = heats ? rise > 0.0 : rise < 0.0 && value > band.middle();
  const double most = static_cast<double>(plan.duty.most) / kRun;
  const double share = asked && !past && able > 0.0 ? std::fabs(rise) / able * most : 0.0;
  const DutyCycle::Now cycle =
      s.duties.cycles[plan.id].ask(share, plan.duty, plan.limits.shortest_run, now);
  Wish wish = resting(Why::between_starts);
  wish.run = cycle.runs && !past;
  wish.cuts = past && heats;  // a compressor keeps its shortest run
  if (wish.run) {
    wish.reason.why = Why::called;
    wish.run_until = cycle.until;
  }
  wake_by(effects, cycle.until, now);
  wish.reason.quantity = kBed;
  wish.reason.value = value;
  wish.reason.start = heats ? band.high : band.low;
  wish.reason.stop = band.middle();
  wish.reason.until = cycle.until;
  wish.reason.duty = DutyReason{cycle.share, plan.duty.period, past};
  return wish;
}

}  // namespace tubwarden
