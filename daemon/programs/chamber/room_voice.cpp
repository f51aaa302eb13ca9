#include "programs/chamber/room_voice.hpp"

#include <fmt/core.h>

#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

/// What a good room sensor shows: a tenth of a percent, a hundredth of a degree, a ppm.
double shown(Quantity q, const rehearsal::ChamberModel& model) {
  switch (q) {
    case Quantity::humidity:
      return std::round(model.room_humidity_pct() * 10.0) / 10.0;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return std::round(model.room_celsius() * 100.0) / 100.0;
    case Quantity::co2:
      return std::round(model.room_co2_ppm());
  }
  ENSURE(false);
}

}  // namespace

Result<RoomVoice> RoomVoice::make(const RoomPlan& room) {
  std::vector<SensorPlan> sensors;
  for (const RoomSource* source : {&room.temperature, &room.humidity, &room.co2}) {
    if (source->sensor) sensors.push_back(*source->sensor);
  }
  RoomVoice voice;
  voice.sensors_ = std::make_shared<const std::vector<SensorPlan>>(std::move(sensors));
  voice.forms_ = rehearsal::topic_forms(*voice.sensors_);
  for (const rehearsal::TopicForm& form : voice.forms_) {
    std::vector<rehearsal::Said> said;
    for (const auto& [source, number] : form.members) said.push_back({source, 0.0});
    const auto payload = rehearsal::payload_of(said, form.stamp, WallTime{});
    if (!payload) {
      return Error{ErrorCode::bad_input,
                   fmt::format("room: topic {}: {}", form.topic, payload.error().text)};
    }
  }
  return voice;
}

std::vector<rehearsal::Word> RoomVoice::words(const rehearsal::ChamberModel& model,
                                              WallTime wall) const {
  std::vector<rehearsal::Word> words;
  for (const rehearsal::TopicForm& form : forms_) {
    std::vector<rehearsal::Said> said;
    for (const auto& [source, number] : form.members) {
      said.push_back({source, shown(source->quantity, model)});
    }
    words.push_back({form.topic, *rehearsal::payload_of(said, form.stamp, wall)});
  }
  return words;
}

}  // namespace tubwarden
