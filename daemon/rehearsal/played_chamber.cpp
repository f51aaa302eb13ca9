#include "rehearsal/played_chamber.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace tubwarden::rehearsal {

std::vector<TopicForm> topic_forms(const std::vector<SensorPlan>& sensors) {
  std::vector<TopicForm> forms;
  std::size_t number = 0;
  for (const SensorPlan& sensor : sensors) {
    const auto same = [&](const TopicForm& form) { return form.topic == sensor.topic; };
    auto form = std::find_if(forms.begin(), forms.end(), same);
    if (form == forms.end()) form = forms.insert(forms.end(), {sensor.topic, {}, {}});
    if (sensor.time) form->stamp = sensor.time;
    for (const QuantitySource& source : sensor.quantities) {
      form->members.emplace_back(&source, number++);
    }
  }
  return forms;
}

PlayedChamber::PlayedChamber(const ChamberPlan& chamber, const ModelParameters& parameters,
                             const RoomDay& room, const StartAir& start, std::uint64_t seed,
                             Instant now)
    : plan_(std::make_unique<const ChamberPlan>(chamber)),
      model_(parameters, room, start),
      plant_(chamber),
      forms_(topic_forms(plan_->sensors)),
      at_(now) {
  Dice seeds(seed);
  for (const SensorPlan& sensor : plan_->sensors) {
    for (const QuantitySource& source : sensor.quantities) {
      SensorTrait trait = parameters.sensors[index_of(source.quantity)];
      if (source.step) trait.quantum = *source.step;
      probes_.emplace_back(source.quantity, trait, seeds.next());
    }
  }
}

Result<PlayedChamber> PlayedChamber::make(const ChamberPlan& chamber,
                                          const ModelParameters& parameters, const RoomDay& room,
                                          const StartAir& start, std::uint64_t seed, Instant now) {
  PlayedChamber played(chamber, parameters, room, start, seed, now);
  if (const Outcome wired = played.wire(); !wired) return wired.error();
  for (const TopicForm& form : played.forms_) {
    std::vector<Said> said;
    for (const auto& [source, number] : form.members) said.push_back({source, 0.0});
    const Result<std::string> payload = payload_of(said, form.stamp, WallTime{});
    if (!payload) {
      return Error{ErrorCode::bad_input,
                   fmt::format("{}: topic {}: {}", chamber.id, form.topic, payload.error().text)};
    }
  }
  return played;
}

Outcome PlayedChamber::wire() {
  for (std::size_t i = 0; i < plan_->actuators.size(); ++i) {
    const OutputPlan& output = plan_->actuators[i].output;
    if (output.driver != "mqtt_relay") {
      unplayed_.push_back(fmt::format("{}/{}: driver {} is not on the broker, it rests", plan_->id,
                                      plan_->actuators[i].id, output.driver));
      continue;
    }
    const Result<RelayWiring> wiring = relay_wiring(output);
    if (!wiring) return wiring.error();
    switches_.push_back({i, *wiring, Relay(output.safe, output.falls_by_itself_after)});
    plant_.set(i, output.safe);
  }
  model_.drive(plant_.drive());
  return Done{};
}

void PlayedChamber::advance(Instant now) {
  if (now <= at_) return;
  model_.advance(now - at_);
  at_ = now;
}

void PlayedChamber::settle(const Switch& moved, std::vector<Word>& words) {
  plant_.set(moved.actuator, moved.relay.level());
  model_.drive(plant_.drive());
  if (moved.wiring.confirm.empty()) return;
  words.push_back({moved.wiring.confirm, moved.wiring.payload_of(moved.relay.level())});
}

std::set<std::string> PlayedChamber::hears() const {
  std::set<std::string> topics;
  for (const Switch& s : switches_) topics.insert(s.wiring.topic);
  return topics;
}

std::vector<Word> PlayedChamber::heard(std::string_view topic, std::string_view payload,
                                       Instant now) {
  std::vector<Word> words;
  for (Switch& s : switches_) {
    if (s.wiring.topic != topic) continue;
    const std::optional<Level> level = s.wiring.level_of(payload);
    if (!level) {
      ++unknown_words_;
      continue;
    }
    advance(now);
    s.relay.heard(*level, now);
    settle(s, words);
  }
  return words;
}

std::vector<Word> PlayedChamber::fall(Instant now) {
  std::vector<Word> words;
  for (Switch& s : switches_) {
    const std::optional<Instant> at = s.relay.falls_at();
    if (!at || now < *at) continue;
    advance(std::max(at_, *at));
    s.relay.falls(now);
    settle(s, words);
  }
  return words;
}

std::optional<Instant> PlayedChamber::next_fall() const {
  std::optional<Instant> next;
  for (const Switch& s : switches_) {
    const std::optional<Instant> at = s.relay.falls_at();
    if (at && (!next || *at < *next)) next = at;
  }
  return next;
}

std::vector<Word> PlayedChamber::confirmations() const {
  std::vector<Word> words;
  for (const Switch& s : switches_) {
    if (s.wiring.confirm.empty()) continue;
    words.push_back({s.wiring.confirm, s.wiring.payload_of(s.relay.level())});
  }
  return words;
}

std::vector<Word> PlayedChamber::sensors(Instant now, WallTime wall) {
  advance(now);
  std::vector<Word> words;
  for (const TopicForm& form : forms_) {
    std::vector<Said> said;
    for (const auto& [source, number] : form.members) {
      said.push_back({source, probes_[number].sample(model_)});
    }
    words.push_back({form.topic, *payload_of(said, form.stamp, wall)});
  }
  return words;
}

void PlayedChamber::lid(bool open, Instant now) {
  advance(now);
  plant_.lid(open);
  model_.drive(plant_.drive());
}

std::string PlayedChamber::told() const {
  const TrueAir air = model_.air();
  std::string text = fmt::format(
      "{}: {:.1f} % RH, {:.2f} C, substrate {:.2f} C, {:.0f} ppm, fog {:.2f} g, film {:.1f} g, "
      "casing {:.0f} g; runs:",
      plan_->id, air.humidity_pct, air.celsius, air.substrate_c, air.co2_ppm, air.fog_g, air.film_g,
      air.casing_g);
  bool any = false;
  for (const Switch& s : switches_) {
    if (s.relay.level() == kRest) continue;
    text += (any ? ", " : " ") + plan_->actuators[s.actuator].id;
    any = true;
  }
  return any ? text : text + " nothing";
}

}  // namespace tubwarden::rehearsal
