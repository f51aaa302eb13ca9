#include "core/sensing/air_state.hpp"

#include <algorithm>

#include "base/ensure.hpp"
#include "core/sensing/decode.hpp"
#include "core/sensing/traits.hpp"

namespace tubwarden {
namespace {

/// More sensors of one quantity in one air than anybody mounts; the rest would not change a median.
constexpr std::size_t kSensorsPerQuantityMax = 16;

/// Whether a reading of one would be a reading of the other.
bool same(const SensorPlan& a, const SensorPlan& b) {
  if (a.id != b.id || a.topic != b.topic || a.time != b.time ||
      a.quantities.size() != b.quantities.size()) {
    return false;
  }
  for (std::size_t i = 0; i < a.quantities.size(); ++i) {
    const QuantitySource& x = a.quantities[i];
    const QuantitySource& y = b.quantities[i];
    if (x.quantity != y.quantity || x.at != y.at || x.unit != y.unit || x.scale != y.scale ||
        x.offset != y.offset || x.range_low != y.range_low || x.range_high != y.range_high ||
        x.calibration != y.calibration) {
      return false;
    }
  }
  return true;
}

const QuantitySource* source_of(const SensorPlan& plan, Quantity quantity) {
  for (const QuantitySource& q : plan.quantities) {
    if (q.quantity == quantity) return &q;
  }
  return nullptr;
}

/// The highest humidity the sensor can say.
double top_of(const SensorPlan& plan) {
  const QuantitySource* source = source_of(plan, Quantity::humidity);
  return source && source->range_high > source->range_low ? calibrated(*source, source->range_high)
                                                          : 100.0;
}

SpikeLimits spike_limits(const SensorPlan& plan, Quantity quantity) {
  const QuantityTraits usual = traits_of(quantity);
  const QuantitySource* source = source_of(plan, quantity);
  if (!source) return {usual.jump, usual.fastest_minute};
  return {source->jump.value_or(usual.jump), source->fastest_minute.value_or(usual.fastest_minute)};
}

}  // namespace

AirState::AirState(std::vector<SensorPlan> sensors, Instant now) : sensors_(std::move(sensors)) {
  states_.resize(sensors_.size());
  for (SensorState& s : states_) s.listening_since = now;
}

bool AirState::reading(std::size_t sensor, Quantity quantity, double value, bool retained,
                       bool at_least, Instant taken, Instant now) {
  ENSURE(sensor < sensors_.size());
  SensorState& state = states_[sensor];
  Slot& slot = state.slots[index_of(quantity)];
  if (retained && slot.live) return false;  // a live one is worth more than one of unknown age
  taken = std::min(taken, now);
  slot.seen_any = true;
  if (!retained) {
    const bool comparable = slot.live && now - slot.taken <= sensors_[sensor].stale_after;
    state.gone = false;
    state.spoke = now;
    state.rhythm.heard(now);
    slot.heard = std::max(slot.heard.value_or(taken), taken);
    const SpikeLimits limits = spike_limits(sensors_[sensor], quantity);
    if (slot.filter.judge(value, taken, comparable, limits) == SpikeFilter::Verdict::held) {
      return false;
    }
    slot.still.reading(value, taken);
    if (quantity == Quantity::humidity) {
      state.wet.reading(value, top_of(sensors_[sensor]), taken);
    }
  }
  slot.live = !retained;
  slot.at_least = at_least;
  slot.value = value;
  slot.taken = taken;
  return true;
}

/// What was said before is no measure of what comes next.
void AirState::unheard(SensorState& state) {
  state.rhythm.pause();
  state.wet.forget();
  for (Slot& slot : state.slots) {
    slot.live = false;
    if (slot.doubt != Doubt::stuck) slot.doubt = Doubt::none;  // that is proved until it moves
    slot.filter.forget();
    slot.agreement.judge(false, {});
  }
}

void AirState::gone(std::size_t sensor) {
  ENSURE(sensor < sensors_.size());
  states_[sensor].gone = true;
  unheard(states_[sensor]);
}

void AirState::broker(bool up, Instant now) {
  for (SensorState& state : states_) {
    unheard(state);
    for (Slot& slot : state.slots) {
      if (up) slot.heard.reset();
    }
    if (up) state.listening_since = now;
  }
}

void AirState::adopt(std::vector<SensorPlan> sensors, Instant now) {
  std::vector<SensorState> states(sensors.size());
  for (std::size_t i = 0; i < sensors.size(); ++i) {
    states[i].listening_since = now;
    for (std::size_t j = 0; j < sensors_.size(); ++j) {
      if (same(sensors[i], sensors_[j])) states[i] = states_[j];
    }
  }
  sensors_ = std::move(sensors);
  states_ = std::move(states);
}

bool AirState::fresh(std::size_t sensor, const Slot& slot, Instant now) const {
  return slot.live && !states_[sensor].gone && now - slot.taken <= sensors_[sensor].stale_after &&
         !late(sensor, now);
}

bool AirState::late(std::size_t sensor, Instant now) const {
  if (sensors_[sensor].on_change) return false;
  const auto limit = states_[sensor].rhythm.late_after();
  return limit && now - states_[sensor].spoke > *limit;
}

template <class Accept>
std::optional<Sensed> AirState::combine(Quantity quantity, Accept accept) const {
  std::array<double, kSensorsPerQuantityMax> values{};
  std::size_t count = 0;
  Sensed sensed;
  for (std::size_t i = 0; i < sensors_.size() && count < values.size(); ++i) {
    const Slot& slot = states_[i].slots[index_of(quantity)];
    if (!accept(i, slot)) continue;
    values[count++] = slot.value;
    sensed.at_least = sensed.at_least || slot.at_least;
    sensed.seen = count == 1 ? slot.taken : std::max(sensed.seen, slot.taken);
  }
  if (count == 0) return std::nullopt;
  std::sort(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(count));
  sensed.highest = values[count - 1];
  sensed.value =
      count % 2 == 1 ? values[count / 2] : (values[count / 2 - 1] + values[count / 2]) / 2;
  return sensed;
}

std::optional<Sensed> AirState::usable(Quantity quantity, Instant now) const {
  return combine(quantity, [&](std::size_t i, const Slot& slot) {
    return slot.doubt == Doubt::none && fresh(i, slot, now);
  });
}

std::optional<double> AirState::hottest(Quantity quantity, Instant now) const {
  const auto live = combine(quantity, [&](std::size_t i, const Slot& slot) {
    return (slot.doubt == Doubt::none || slot.doubt == Doubt::disagrees) && fresh(i, slot, now);
  });
  return live ? std::optional(live->highest) : std::nullopt;
}

std::optional<Sensed> AirState::newest(Quantity quantity) const {
  return combine(quantity, [](std::size_t, const Slot& slot) { return slot.seen_any; });
}

bool AirState::planned(Quantity quantity) const {
  return std::any_of(sensors_.begin(), sensors_.end(), [&](const SensorPlan& plan) {
    return std::any_of(plan.quantities.begin(), plan.quantities.end(),
                       [&](const QuantitySource& q) { return q.quantity == quantity; });
  });
}

Instant AirState::silent_since(std::size_t sensor, Quantity quantity) const {
  const SensorState& state = states_[sensor];
  const std::optional<Instant>& heard = state.slots[index_of(quantity)].heard;
  return heard ? std::max(*heard, state.listening_since) : state.listening_since;
}

Instant AirState::silent_since(std::size_t sensor) const {
  ENSURE(sensor < sensors_.size());
  std::optional<Instant> since;
  for (const QuantitySource& source : sensors_[sensor].quantities) {
    const Instant of_it = silent_since(sensor, source.quantity);
    since = since ? std::min(*since, of_it) : of_it;
  }
  return since.value_or(states_[sensor].listening_since);
}

bool AirState::silent(std::size_t sensor, Quantity quantity, Instant now) const {
  ENSURE(sensor < sensors_.size());
  return now - silent_since(sensor, quantity) > sensors_[sensor].stale_after;
}

bool AirState::is_gone(std::size_t sensor) const {
  ENSURE(sensor < sensors_.size());
  return states_[sensor].gone;
}

bool AirState::heard(std::size_t sensor) const {
  ENSURE(sensor < sensors_.size());
  const SensorState& state = states_[sensor];
  const auto& sources = sensors_[sensor].quantities;
  return !state.gone && std::all_of(sources.begin(), sources.end(), [&](const QuantitySource& q) {
    return state.slots[index_of(q.quantity)].heard.has_value();
  });
}

bool AirState::stale(std::size_t sensor, Instant now) const {
  return is_gone(sensor) || now - silent_since(sensor) > sensors_[sensor].stale_after;
}

std::optional<Instant> AirState::next_staling(Instant now) const {
  std::optional<Instant> next;
  const auto consider = [&](Instant at) {
    if (at > now && (!next || at < *next)) next = at;
  };
  const Duration just_after = Duration{1};
  for (std::size_t i = 0; i < sensors_.size(); ++i) {
    const SensorState& state = states_[i];
    if (const auto limit = state.rhythm.late_after(); limit && !sensors_[i].on_change) {
      consider(state.spoke + *limit + just_after);
    }
    if (const auto due = state.wet.due()) consider(*due);
    consider(silent_since(i) + sensors_[i].stale_after + just_after);
    for (const Slot& slot : state.slots) {
      if (slot.live) consider(slot.taken + sensors_[i].stale_after + just_after);
      if (const auto due = slot.agreement.due()) consider(*due);
      const auto silence = slot.filter.silence_until(kSilenceConfirms);
      if (silence && sensors_[i].on_change) consider(*silence);
    }
  }
  return next;
}

}  // namespace tubwarden
