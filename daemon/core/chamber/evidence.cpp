#include "core/chamber/evidence.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

/// A sensor may speak each five minutes: a run is remembered until it has.
constexpr Duration kRemembered = minutes(30);
constexpr double kFull = 100.0;
/// An air without a temperature is taken for one of a cropping tub.
constexpr double kUsualCelsius = 17.0;

void add(std::vector<Push>& pushes, Quantity q, double amount) {
  if (amount != 0.0) pushes.push_back({q, {}, {}, amount});
}

/// % RH of a gram in this air.
double humidity_per_gram(const RunAir& air) {
  const double celsius = air.value[index_of(Quantity::air_temperature)].value_or(kUsualCelsius);
  const double full_g_m3 = absolute_humidity_g_m3(Celsius{celsius}, Percent{kFull});
  return kFull / (full_g_m3 * air.litres / 1000.0);
}

void water(std::vector<Push>& pushes, double grams, const RunAir& air) {
  const auto& value = air.value[index_of(Quantity::humidity)];
  if (!value) return;
  const double moved = kPushShare * grams * humidity_per_gram(air);
  add(pushes, Quantity::humidity, std::clamp(moved, -*value, std::max(0.0, kFull - *value)));
}

void room_air(std::vector<Push>& pushes, double litres, const RunAir& air) {
  const double share = 1.0 - std::exp(-litres / air.litres);
  const auto value = [&](Quantity q) { return air.value[index_of(q)]; };
  if (const auto co2 = value(Quantity::co2)) {
    add(pushes, Quantity::co2, kPushShare * share * (air.room_co2 - *co2));
  }
  const auto celsius = value(Quantity::air_temperature);
  if (!celsius || !air.room_celsius) return;
  add(pushes, Quantity::air_temperature,
      kPushShareAirTemperature * share * (*air.room_celsius - *celsius));
  const auto humidity = value(Quantity::humidity);
  if (!humidity || !air.room_humidity) return;
  const double ratio = humidity_ratio(Celsius{*air.room_celsius}, Percent{*air.room_humidity});
  const double at_room = relative_humidity(Celsius{*celsius}, ratio).value;
  add(pushes, Quantity::humidity, kPushShare * share * (std::min(at_room, kFull) - *humidity));
}

}  // namespace

std::vector<Push> pushes_of(const ActuatorPlan& actuator, double share, Duration lasted,
                            const RunAir& air) {
  std::vector<Push> pushes;
  if (!actuator.rate || air.litres <= 0.0 || lasted <= Duration{0}) return pushes;
  const double amount = *actuator.rate * share * seconds_of(lasted) / 3600.0;
  switch (actuator.effect) {
    case Effect::humidify:
      water(pushes, amount, air);
      break;
    case Effect::dehumidify:
      water(pushes, -amount, air);
      break;
    case Effect::fresh_air:
      room_air(pushes, 1000.0 * amount, air);
      break;
    case Effect::heat:
    case Effect::cool:
    case Effect::stir:
    case Effect::light:
      break;
  }
  return pushes;
}

void HeatBook::begin_slot(Instant at) {
  slot_ = at;
  current_ = 0.0;
}

void HeatBook::add(double watts, Instant now) {
  if (!slot_) {
    begin_slot(now);
    last_ = now;
    return;
  }
  while (now >= *slot_ + kSlot) {
    const Instant end = *slot_ + kSlot;
    current_ += watts * seconds_of(end - *last_) / 1000.0;
    std::rotate(kj_.begin(), kj_.begin() + 1, kj_.end());
    kj_.back() = current_;
    whole_ = std::min(whole_ + 1, kSlots);
    last_ = end;
    begin_slot(end);
  }
  current_ += watts * seconds_of(now - *last_) / 1000.0;
  last_ = now;
}

std::optional<HeatBook::More> HeatBook::more() const {
  if (whole_ < kSlots) return std::nullopt;
  double kj = 0.0;
  for (std::size_t i = 0; i < kSlots; ++i) kj += i < kSlots / 2 ? -kj_[i] : kj_[i];
  return More{*slot_ - kSlot * static_cast<int>(kSlots / 2), *slot_, kj};
}

void Evidence::add(Push push, Instant now) {
  std::erase_if(pushes_, [&](const Push& p) { return now - p.to > kRemembered; });
  if (pushes_.size() == kKept) pushes_.erase(pushes_.begin());
  pushes_.push_back(push);
}

void Evidence::add(const std::vector<Push>& pushes, Instant from, Instant to, Instant now) {
  for (Push push : pushes) {
    push.from = from;
    push.to = to;
    add(push, now);
  }
}

}  // namespace tubwarden
