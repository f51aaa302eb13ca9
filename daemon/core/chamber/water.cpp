// The water book: what moved water until now, and what it comes to.

#include "core/chamber/water.hpp"

#include <algorithm>

#include "core/air/psychrometrics.hpp"
#include "core/chamber/chamber_state.hpp"

namespace tubwarden {
namespace {

/// Air that only leaks moves slowly: it is looked at this often. While a fan runs it is at each
/// turn.
constexpr Duration kBookLook = seconds(10);
/// Of a leak that was measured, and of one that is assumed.
constexpr double kLeakDoubt = 0.3, kLeakAssumedDoubt = 0.7;
/// s: less of a day says nothing about how long a tank lasts.
constexpr double kDayLeast = 3600.0;

bool drops_out(const ActuatorPlan& a) {
  return (a.effect == Effect::humidify || a.effect == Effect::dehumidify) &&
         a.rate.value_or(0.0) <= 0.0;
}

/// W at full level; nothing where nobody said. What a cooler's rate moves is not what it draws.
std::optional<double> power_of(const ActuatorPlan& a) {
  if (a.power_w) return a.power_w;
  if (a.effect == Effect::heat || a.effect == Effect::light) return a.rate;
  return std::nullopt;
}

std::optional<TankView> tank_of(const ActuatorPlan& a, const WaterBook& book, std::size_t i) {
  if (a.effect != Effect::humidify || !a.tank_ml) return std::nullopt;
  TankView tank;
  tank.actuator = a.id;
  tank.holds_ml = *a.tank_ml;
  const OutputTime& time = book.output(i);
  if (!time.refilled_at_s || !a.rate) return tank;
  const double used = *a.rate * (time.run_s - *time.refilled_at_s) / 3600.0;
  tank.left_ml = std::max(0.0, tank.holds_ml - used);
  const double known = book.day_known_s();
  const double day_g = *a.rate * book.day_s(i) / 3600.0;
  if (known >= kDayLeast && day_g > 0.0) tank.lasts = from_seconds(*tank.left_ml / day_g * known);
  return tank;
}

}  // namespace

bool has_casing(const std::string& phase) {
  return !phase.empty() && phase != kPhaseGrain && phase != kPhaseColonization &&
         phase != kPhaseEmpty;
}

/// A plan says which outputs there are, and what nobody measures.
void Chamber::State::open_book() {
  std::vector<std::string> ids;
  std::vector<std::string>& missing = ledger.missing;
  missing.clear();
  const auto senses = [&](Quantity q) {
    for (const SensorPlan& sensor : plan.sensors) {
      for (const QuantitySource& source : sensor.quantities) {
        if (source.quantity == q) return true;
      }
    }
    return false;
  };
  if (!senses(Quantity::humidity)) missing.emplace_back("a humidity sensor");
  if (!senses(Quantity::air_temperature)) missing.emplace_back("a sensor of the air's temperature");
  if (!room_plan.temperature.known()) missing.emplace_back("the room's temperature");
  if (!room_plan.humidity.known()) missing.emplace_back("the room's humidity");
  for (const ActuatorPlan& a : plan.actuators) {
    ids.push_back(a.id);
    if (drops_out(a)) missing.push_back("the rate of " + a.id);
  }
  ledger.book.outputs(ids);
  forget_gone();
}

void Chamber::State::take_book(const event::BookKnown& known, Instant now) {
  ledger.book.restore(*known.book, known.ago);
  forget_gone();
  for (const WaterMark& mark : ledger.book.state().marks) {
    if (mark.given_ml <= 0.0) continue;
    surfaces.film.watered(now - ledger.book.account(mark.tub, {})->since, now);
  }
}

/// A tub that stands here no longer has no account here.
void Chamber::State::forget_gone() {
  for (const WaterMark& mark : std::vector<WaterMark>(ledger.book.state().marks)) {
    const bool stays = std::any_of(tubs.begin(), tubs.end(),
                                   [&](const TubState& t) { return t.plan.id == mark.tub; });
    if (!stays) ledger.book.forget(mark.tub);
  }
}

/// By what was known in the last turn, or nothing: what happens under open hands is nobody's
/// account.
std::optional<double> Chamber::State::taken_now(Instant now) {
  const auto& humid = of(Quantity::humidity).sensed;
  const auto& celsius = of(Quantity::air_temperature).sensed;
  if (!ledger.missing.empty() || !humid || !celsius || hand(HandKind::attend)) return std::nullopt;
  const auto room_t = room_of(event::RoomQuantity::temperature, now);
  const auto room_rh = room_of(event::RoomQuantity::humidity, now);
  if (!room_t || !room_rh) return std::nullopt;
  // The forecast is ahead of the sensor's lag.
  const bool foreseen = plan.control == Control::portions && portions.humidity.known();
  const double rh = foreseen ? portions.humidity.value() : humid->value;
  const MoistAir inside{Celsius{celsius->value}, Percent{std::clamp(rh, 0.0, 100.0)}};
  ledger.per_pct_g_m3 = absolute_humidity_g_m3(inside.t, Percent{1.0});
  return taken_g_m3(inside, {Celsius{*room_t}, Percent{*room_rh}});
}

void Chamber::State::keep_book(Instant now) {
  WaterKeeping& w = ledger;
  const Duration passed = now - w.kept_until;
  if (passed <= Duration{0}) return;
  w.kept_until = now;
  WaterFlow flow;
  for (std::size_t i = 0; i < actuators.size(); ++i) {
    const ActuatorState& a = actuators[i];
    if (!a.usable || a.level == kRest) continue;
    const double share = static_cast<double>(a.level) / kRun;
    w.book.ran(i, share * seconds_of(passed));
    const double rate = plan.actuators[i].rate.value_or(0.0) * share;
    if (plan.actuators[i].effect == Effect::fresh_air) flow.fan_m3_h += rate;
    if (plan.actuators[i].effect == Effect::humidify) flow.mist_g_h += rate;
    if (plan.actuators[i].effect == Effect::dehumidify) flow.dried_g_h += rate;
  }
  const auto before = w.taken_g_m3;
  if (!before || flow.fan_m3_h > 0.0 || now - w.looked >= kBookLook ||
      !of(Quantity::humidity).sensed) {
    w.taken_g_m3 = taken_now(now);
    w.looked = now;
  }
  if (!w.taken_g_m3) return w.book.pass(passed, std::nullopt);
  const TubState* tub = leader();
  const double litres = plan.net_volume.in(tub ? tub->phase.phase : "");
  flow.leak_m3_h = plan.leak_per_h.value_or(kLeakAssumedPerH) * litres / 1000.0;
  flow.net_m3 = litres / 1000.0;
  flow.taken_g_m3 = (before.value_or(*w.taken_g_m3) + *w.taken_g_m3) / 2.0;
  flow.per_pct_g_m3 = w.per_pct_g_m3;
  w.book.pass(passed, flow);
}

void Chamber::State::take_watered(const event::Watered& given, Instant now) {
  for (const TubState& tub : tubs) {
    if (tub.plan.id != given.tub) continue;
    ledger.book.mark(given.tub, given.millilitres);
    surfaces.film.watered(now, now);
  }
}

void Chamber::State::take_refilled(const event::Refilled& filled) {
  for (std::size_t i = 0; i < plan.actuators.size(); ++i) {
    if (plan.actuators[i].id == filled.actuator) ledger.book.refilled(i);
  }
}

/// A casing that is laid begins an account; one that lies there already goes on with its own.
void Chamber::State::mark_casing(const std::string& tub, const std::string& before,
                                 const std::string& phase) {
  if (!has_casing(phase)) return ledger.book.forget(tub);
  const bool laid = !before.empty() && !has_casing(before);
  if (laid || !ledger.book.marked(tub)) ledger.book.mark(tub, 0.0);
}

WaterView Chamber::water() const {
  const State& s = *state_;
  const WaterBook& book = s.ledger.book;
  WaterView view;
  view.missing = s.ledger.missing;
  view.leak_assumed = !s.plan.leak_per_h;
  WaterDoubts doubts;
  doubts.leak = view.leak_assumed ? kLeakAssumedDoubt : kLeakDoubt;
  for (const TubState& tub : s.tubs) {
    const auto account = book.account(tub.plan.id, doubts);
    if (!account || tub.plan.is_shelf) continue;
    view.casings.push_back({tub.plan.id, book.mark_of(tub.plan.id)->given_ml, *account});
  }
  view.day_seen = from_seconds(book.day_known_s());
  for (std::size_t i = 0; i < s.plan.actuators.size(); ++i) {
    const ActuatorPlan& a = s.plan.actuators[i];
    if (auto tank = tank_of(a, book, i)) view.tanks.push_back(std::move(*tank));
    const double run_h = book.day_s(i) / 3600.0;
    if (a.effect == Effect::humidify) view.day_mist_g += a.rate.value_or(0.0) * run_h;
    const auto watts = power_of(a);
    if (watts) {
      view.day_energy_wh += *watts * run_h;
    } else {
      view.unmetered.push_back(a.id);
    }
  }
  return view;
}

const WaterBookState& Chamber::book() const { return state_->ledger.book.state(); }

}  // namespace tubwarden
