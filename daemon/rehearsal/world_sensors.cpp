// What the sensors of a rehearsed world show, when, and what of it the daemon hears.

#include <algorithm>
#include <utility>

#include "rehearsal/world_impl.hpp"

namespace tubwarden::rehearsal {

/// What a sensor shows that drifts, within what it can show.
double World::Impl::drifted(std::size_t sensor, Quantity q, double value) const {
  const Quantity first = sensors[sensor].probes.front().quantity();
  double drift = 0.0;
  for (const Fault& f : plan.faults) {
    if (f.kind != Fault::Kind::sensor_drifting || f.index != sensor || !faulty(f)) continue;
    if (f.quantity.value_or(first) != q) continue;
    drift += f.amount * seconds_of(now - start - f.from) / 3600.0;
  }
  if (drift == 0.0) return value;
  if (q == Quantity::humidity) return std::clamp(value + drift, 0.0, 100.0);
  return q == Quantity::co2 ? std::max(value + drift, 0.0) : value + drift;
}

void World::Impl::sample(std::size_t sensor) {
  Sensor& s = sensors[sensor];
  s.next += s.rhythm;
  if (s.dead || s.gone) return;
  catch_up();
  if (!s.stuck || !s.sampled) {
    for (std::size_t i = 0; i < s.probes.size(); ++i) {
      s.last[i] = drifted(sensor, s.probes[i].quantity(), s.probes[i].sample(model));
    }
    s.sampled = true;
  }
  if (speaks(sensor) && !broker_away && !absent()) hear(sensor, false);
}

/// One that speaks on change only: when its values differ from what it said, or its time is up.
bool World::Impl::speaks(std::size_t sensor) {
  Sensor& s = sensors[sensor];
  const SensorPlan& sensor_plan = plan.chamber.sensors[sensor];
  if (!sensor_plan.on_change) return true;
  const bool due =
      sensor_plan.at_least_every && now - s.said_at + s.rhythm > *sensor_plan.at_least_every;
  if (s.said == s.last && !due) return false;
  s.said = s.last;
  s.said_at = now;
  return true;
}

void World::Impl::hear(std::size_t sensor, bool retained) {
  const SensorPlan& sensor_plan = plan.chamber.sensors[sensor];
  event::Message message;
  for (std::size_t i = 0; i < sensor_plan.quantities.size(); ++i) {
    const QuantitySource& source = sensor_plan.quantities[i];
    event::Reading r{sensor, source.quantity, sensors[sensor].last[i], retained, false, {}};
    if (source.range_high > source.range_low) {
      r.at_least = source.quantity == Quantity::co2 && r.value >= source.range_high;
      if (r.at_least) r.value = source.range_high;
      if (r.value < source.range_low || r.value > source.range_high) {
        ++statistics.refused;
        continue;
      }
    }
    ++statistics.readings;
    last_word[index_of(source.quantity)] = r.value;
    if (observer != nullptr && !retained) {
      observer->heard(now - start, sensor, source.quantity, r.value);
    }
    BandTime& time = statistics.bands[index_of(source.quantity)];
    if (!retained && bands[index_of(source.quantity)]) {
      const bool in = in_band(source.quantity, r.value);
      if (in && !time.reached) time.reached = now - start;
      if (time.reached) {
        time.since_in.all += 1.0;
        time.since_in.in += in ? 1.0 : 0.0;
      }
      if (now - start >= plan.run_in) {
        time.sensed.all += 1.0;
        time.sensed.in += in ? 1.0 : 0.0;
      }
    }
    watch.reading(sensor, source.quantity, r.value, retained, now);
    message.add(r);
  }
  if (message.count > 0) step(message);
}

void World::Impl::sample_room() {
  next_room += plan.room_rhythm;
  if (broker_away || absent()) return;
  catch_up();
  const std::pair<const RoomSource*, event::RoomReading> sources[] = {
      {&plan.room.temperature, {event::RoomQuantity::temperature, model.room_celsius(), false}},
      {&plan.room.humidity, {event::RoomQuantity::humidity, model.room_humidity_pct(), false}},
      {&plan.room.co2, {event::RoomQuantity::co2, model.room_co2_ppm(), false}},
  };
  for (const auto& [source, reading] : sources) {
    if (source->sensor) step(reading);
  }
}

/// keep_above has no upper edge that could be left, keep_below no lower one.
bool World::Impl::in_band(Quantity q, double value) const {
  const Band& band = *bands[index_of(q)];
  const auto form = phase_plan != nullptr && phase_plan->of(q) && phase_plan->of(q)->keep
                        ? phase_plan->of(q)->keep->form
                        : Keep::Form::between;
  return (value >= band.low || form == Keep::Form::below) &&
         (value <= band.high || form == Keep::Form::above);
}

}  // namespace tubwarden::rehearsal
