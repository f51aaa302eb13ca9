#include <algorithm>
#include <array>
#include <optional>

#include "base/ensure.hpp"
#include "core/sensing/air_state.hpp"
#include "core/sensing/traits.hpp"

namespace tubwarden {
namespace {

double accuracy_of(const QuantitySource& source) {
  return source.accuracy.value_or(traits_of(source.quantity).accuracy);
}

}  // namespace

/// Takes what a sensor on change only has left standing.
void AirState::settle(std::size_t sensor, Instant now) {
  if (!sensors_[sensor].on_change) return;
  for (Slot& slot : states_[sensor].slots) {
    const auto confirmed = slot.filter.confirmed_by_silence(kSilenceConfirms, now);
    if (!confirmed) continue;
    slot.value = confirmed->value;
    slot.taken = confirmed->taken;
    slot.still.reading(confirmed->value, confirmed->taken);
  }
}

/// What one sensor's own readings say against it.
void AirState::judge_alone(std::size_t sensor, std::span<const Push> pushes, Instant now) {
  const SensorPlan& plan = sensors_[sensor];
  SensorState& state = states_[sensor];
  for (const QuantitySource& source : plan.quantities) {
    Slot& slot = state.slots[index_of(source.quantity)];
    const auto stuck = [&] {
      return slot.live && slot.still.stuck(pushes, source.quantity, source.step,
                                           traits_of(source.quantity).quantum, plan.on_change, now);
    };
    if (slot.filter.jumping()) {
      slot.doubt = Doubt::jumping;
    } else if (slot.doubt == Doubt::stuck ? !slot.still.moved_since(slot.stuck_at) : stuck()) {
      // Once proved it holds until it moves: the runs that proved it are forgotten.
      if (slot.doubt != Doubt::stuck) slot.stuck_at = slot.still.still_since().value_or(now);
      slot.doubt = Doubt::stuck;
    } else if (source.quantity == Quantity::humidity && state.wet.condensed(now)) {
      slot.doubt = Doubt::condensed;
    } else {
      slot.doubt = Doubt::none;
    }
  }
}

/// What the others say against it.
void AirState::judge_together(Quantity quantity, Instant now) {
  std::array<Voice, kVoicesMax> voices{};
  std::array<std::size_t, kVoicesMax> who{};
  std::size_t count = 0;
  for (std::size_t i = 0; i < sensors_.size(); ++i) {
    for (const QuantitySource& source : sensors_[i].quantities) {
      if (source.quantity != quantity) continue;
      Slot& slot = states_[i].slots[index_of(quantity)];
      if (slot.doubt != Doubt::none || !fresh(i, slot, now) || count == kVoicesMax) {
        slot.agreement.judge(false, now);
        continue;
      }
      who[count] = i;
      voices[count++] = {slot.value, accuracy_of(source), slot.at_least, false};
    }
  }
  find_outliers(std::span(voices).first(count));
  for (std::size_t i = 0; i < count; ++i) {
    Slot& slot = states_[who[i]].slots[index_of(quantity)];
    slot.agreement.judge(voices[i].out, now);
    if (slot.agreement.disagrees(now)) slot.doubt = Doubt::disagrees;
  }
}

void AirState::judge(std::span<const Push> pushes, bool misting, Instant now) {
  const auto celsius = usable(Quantity::air_temperature, now);
  for (std::size_t i = 0; i < sensors_.size(); ++i) {
    settle(i, now);
    states_[i].wet.around(celsius ? std::optional(celsius->value) : std::nullopt, misting, now);
    judge_alone(i, pushes, now);
  }
  if (sensors_.size() < 2) return;
  for (Quantity q : kAllQuantities) judge_together(q, now);
}

Doubt AirState::doubt(std::size_t sensor, Quantity quantity, Instant now) const {
  ENSURE(sensor < sensors_.size());
  const Slot& slot = states_[sensor].slots[index_of(quantity)];
  if (!slot.live || states_[sensor].gone) return Doubt::none;
  return late(sensor, now) ? Doubt::late : slot.doubt;
}

std::optional<double> AirState::last_value(std::size_t sensor, Quantity quantity) const {
  ENSURE(sensor < sensors_.size());
  const Slot& slot = states_[sensor].slots[index_of(quantity)];
  return slot.live ? std::optional(slot.value) : std::nullopt;
}

double AirState::quantum(Quantity quantity) const {
  std::optional<double> finest;
  for (std::size_t i = 0; i < sensors_.size(); ++i) {
    for (const QuantitySource& source : sensors_[i].quantities) {
      if (source.quantity != quantity) continue;
      const double own = states_[i].slots[index_of(quantity)].still.quantum(
          source.step, traits_of(quantity).quantum);
      finest = finest ? std::min(*finest, own) : own;
    }
  }
  return finest.value_or(traits_of(quantity).quantum);
}

std::uint64_t AirState::spikes(std::size_t sensor) const {
  ENSURE(sensor < sensors_.size());
  std::uint64_t all = 0;
  for (const Slot& slot : states_[sensor].slots) all += slot.filter.dropped();
  return all;
}

std::optional<Duration> AirState::interval(std::size_t sensor) const {
  ENSURE(sensor < sensors_.size());
  return states_[sensor].rhythm.interval();
}

std::optional<Instant> AirState::doubted_since(std::size_t sensor, Quantity quantity) const {
  ENSURE(sensor < sensors_.size());
  const SensorState& state = states_[sensor];
  const Slot& slot = state.slots[index_of(quantity)];
  switch (slot.doubt) {
    case Doubt::stuck:
      return slot.still.still_since();
    case Doubt::condensed:
      return state.wet.at_top_since();
    case Doubt::disagrees:
      return slot.agreement.since();
    case Doubt::late:
    case Doubt::none:
    case Doubt::jumping:
      return state.spoke;
  }
  ENSURE(false);
}

}  // namespace tubwarden
