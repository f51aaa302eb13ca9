#include "shell/warden/warden.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/sensing/decode.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

Warden::Warden(WardenParts parts) : state_(std::make_unique<State>(std::move(parts))) {
  const Stamp at = state_->stamp();
  state_->clock_was_set = at.wall_set;
  state_->wall_offset = at.wall.time_since_epoch() - at.boot.time_since_epoch();
  if (at.wall_set) state_->parts.record.clock_set(at);
  state_->broker_since = state_->now();
  state_->next_checkpoint = state_->now() + kCheckpointEvery;
  state_->next_local_time = state_->now();
}
Warden::~Warden() = default;

const std::optional<SiteSettings>& Warden::site() const { return state_->site; }

void Warden::remember(std::vector<TubRecord> tubs) {
  for (TubRecord& tub : tubs) state_->remembered[tub.tub] = std::move(tub);
}

void Warden::remember_alerts(std::vector<AlertNoted> alerts) {
  std::vector<Entry> entries;
  for (AlertNoted& alert : alerts) {
    const AlertKey key{alert.place, alert.cause};
    state_->left_standing.push_back(key);
    if (state_->desk.find(key)) continue;  // the desk waits whether it comes again
    alert.raised = false;
    alert.text = "taken back: the daemon was started anew";
    entries.push_back(state_->entry("daemon", std::move(alert)));
  }
  if (!entries.empty()) state_->append(std::move(entries));
}

void Warden::remember_desk(const std::vector<AlertKept>& kept) { state_->restore_desk(kept); }

void Warden::remember_outbox(std::vector<NoticeWritten> notices) {
  state_->left_undelivered = std::move(notices);
}

void Warden::remember_hands(std::vector<HandOpen> hands) {
  state_->hands_to_restore = std::move(hands);
}

void Warden::remember_learned(std::vector<LearnedRow> learned) {
  state_->learned = std::move(learned);
}

void Warden::adopt(Loaded loaded, ConfigSource source, const std::string& folder) {
  state_->source = source;
  state_->folder = folder;
  state_->take_plan(std::move(loaded));
  state_->ask_for_wake();
}

void Warden::broker_up() {
  State& s = *state_;
  s.is_up = true;
  s.broker_since = s.now();
  s.judge_site({"site", "broker_lost"}, false, kBrokerLostDelay, AlertRank::now,
               "The broker is back.");
  s.publish_all();
  for (auto& [id, air] : s.airs) s.step(*air, event::BrokerUp{});
  s.ask_for_wake();
}

void Warden::broker_down(const std::string& why) {
  State& s = *state_;
  if (s.is_up) s.broker_since = s.now();
  s.is_up = false;
  s.judge_site(
      {"site", "broker_lost"}, true, kBrokerLostDelay, AlertRank::now,
      fmt::format("The broker is away ({}). Nothing is read and outputs stand at their safe "
                  "level. Look at the broker and the network.",
                  why));
  for (auto& [id, air] : s.airs) s.step(*air, event::BrokerDown{});
  s.ask_for_wake();
}

void Warden::message(const BrokerMessage& message) {
  state_->take_message(message);
  state_->run_due();
  state_->ask_for_wake();
}

void Warden::tick() {
  state_->run_due();
  state_->ask_for_wake();
}

void Warden::output_report(const OutputReport& report) {
  State& s = *state_;
  s.reports[report.id] = report;
  const std::string name = report.id.chamber + "/" + report.id.actuator;
  const bool bad = report.health == OutputHealth::failed_safe ||
                   report.health == OutputHealth::unsafe ||
                   report.health == OutputHealth::unconfirmed;
  s.judge_site({report.id.chamber, "output_" + report.id.actuator}, bad, Duration{0},
               AlertRank::now,
               bad ? fmt::format("{}: {}. {}", name, name_of(report.health), report.why)
                   : fmt::format("{}: its driver obeys again.", name));
  const auto trial = s.trials.find(report.id);
  if (trial != s.trials.end() && report.confirmed) {
    trial->second.watch.confirmed(*report.confirmed, s.now());
  }
  const auto air = s.airs.find(report.id.chamber);
  if (air != s.airs.end()) {
    const auto& actuators = air->second->chamber.plan().actuators;
    for (std::size_t i = 0; i < actuators.size(); ++i) {
      if (actuators[i].id != report.id.actuator) continue;
      const bool usable =
          report.health == OutputHealth::ready || report.health == OutputHealth::unconfirmed;
      s.step(*air->second, event::OutputUsable{i, usable, report.why});
    }
  }
  s.ask_for_wake();
}

void Warden::channel_report(const Delivery& delivery) {
  state_->channel_done(delivery);
  state_->ask_for_wake();
}

void Warden::answer(const std::string& what, const std::string& args_json, const std::string& who,
                    Reply reply) {
  state_->answer(what, args_json, who, std::move(reply));
  state_->ask_for_wake();
}

void Warden::stop() { state_->checkpoint_all(); }

std::string Warden::why(const OutputId& id) const {
  const auto air = state_->airs.find(id.chamber);
  if (air == state_->airs.end() || !air->second) return "";  // being rebuilt this moment
  for (const ActuatorView& view : air->second->chamber.actuators(state_->now())) {
    if (view.id == id.actuator) return view.why;
  }
  return "";
}

// --- the turn -----------------------------------------------------------------------------------

Stamp Warden::State::stamp() const {
  return {parts.clock.wall(), parts.clock.wall_is_set(), parts.clock.boot_id(), parts.clock.now()};
}

void Warden::State::step(Air& air, const Event& event) {
  perform(air, air.chamber.step(event, now()));
}

void Warden::State::perform(Air& air, Effects effects) {
  const ChamberPlan& chamber = air.chamber.plan();
  for (const OutputCommand& command : effects.outputs) {
    parts.drivers.command(chamber.actuators[command.actuator].output.id, command.level,
                          command.run);
  }
  for (const AlertChange& change : effects.alerts) tell(change);
  for (const OutputCommand& command : effects.outputs) publish_actuator(air, command.actuator);
  for (const GlideStart& glide : effects.glides) {
    const auto tub = tubs.find(glide.tub);
    if (tub == tubs.end() || !tub->second.known) continue;
    TubRecord& known = *tub->second.known;
    GlideStarted started{glide.tub, known.batch, known.phase, glide.quantity, glide.value};
    known.glides.push_back(started);
    // Behind its transition in the record, or a start would not find it.
    if (known.transition == 0) {
      tub->second.glides_to_note = true;
    } else {
      append({entry("daemon", started)});
    }
  }
  for (const MistLearned& l : effects.learned) note_learned(chamber, l);
  for (const DutyLearned& l : effects.duties) note_learned(chamber, l);
  for (const Decision& decision : effects.decisions) note(air, decision);
  for (const Hand& hand : effects.hands_over) hand_over(air, hand);
  for (PhaseDue& due : effects.phases_due) plans_due.push_back(std::move(due));
  air.next_wake = effects.next_wake;
  if (air.air_changed) publish_air(air);
  Instant wake = air.next_wake;
  if (air.air_changed && is_up) wake = std::min(wake, air.air_published + kAirPublishedEvery);
  queue_wake(air, wake);
}

void Warden::State::note_learned(const ChamberPlan& chamber, const MistLearned& l) {
  LearnedRow row{chamber.id,      l.actuator,         0.0, l.learned.share, l.learned.share_error,
                 l.learned.lag_s, l.learned.lag_error};
  for (const ActuatorPlan& a : chamber.actuators) {
    if (a.id == l.actuator) row.rate = a.rate.value_or(0.0);
  }
  note_learned(std::move(row));
}

void Warden::State::note_learned(const ChamberPlan& chamber, const DutyLearned& l) {
  LearnedRow row{chamber.id, l.actuator, 0.0, l.k_per_h, 0.0, 0.0, 0.0};
  for (const ActuatorPlan& a : chamber.actuators) {
    if (a.id == l.actuator) row.rate = a.rate.value_or(0.0);
  }
  note_learned(std::move(row));
}

void Warden::State::note_learned(LearnedRow row) {
  std::erase_if(learned, [&](const LearnedRow& old) {
    return old.chamber == row.chamber && old.actuator == row.actuator;
  });
  learned.push_back(row);
  parts.record.learned(std::move(row));
}

/// The share counts by the rate of its day: another rate in the file makes it another share.
void Warden::State::give_learned(Air& air) {
  const ChamberPlan& chamber = air.chamber.plan();
  for (const LearnedRow& row : std::vector<LearnedRow>(learned)) {
    if (row.chamber != chamber.id) continue;
    for (const ActuatorPlan& a : chamber.actuators) {
      if (a.id != row.actuator) continue;
      if (a.effect == Effect::heat || a.effect == Effect::cool) {
        step(air, event::DutyKnown{a.id, row.share});
      }
      if (a.effect != Effect::humidify || a.rate.value_or(0.0) <= 0.0) continue;
      const double share = row.share * row.rate / *a.rate;
      step(air, event::MistKnown{a.id, {share, row.share_error, row.lag_s, row.lag_error}});
    }
  }
}

/// A decision, and the run that ended by it, into the history.
void Warden::State::note(Air& air, const Decision& decision) {
  const ChamberPlan& chamber = air.chamber.plan();
  const std::string& actuator = chamber.actuators[decision.actuator].id;
  const Stamp at = stamp();
  if (decision.ended) {
    Stamp began = at;
    began.boot = decision.ended->began;
    began.wall -= duration_cast<milliseconds>(at.boot - began.boot);
    parts.record.run({chamber.id, actuator, decision.ended->level, std::move(began),
                      at.boot - decision.ended->began});
  }
  if (decision.level > kRest) tell_trials(air, actuator);
  parts.record.decision({chamber.id, actuator, decision.level, decision.why, at});
}

void Warden::State::queue_wake(Air& air, Instant at) {
  if (air.wake == at) return;
  const std::string& id = air.chamber.plan().id;
  if (air.wake) wakes.erase({*air.wake, id});
  air.wake = at;
  wakes.insert({at, id});
}

void Warden::State::run_due() {
  const Instant moment = now();
  while (!wakes.empty() && wakes.begin()->first <= moment) {
    Air& air = *airs.at(wakes.begin()->second);
    wakes.erase(wakes.begin());
    air.wake.reset();
    step(air, event::Tick{});
  }
  follow_plans();
  judge_site_again();
  desk_due();
  beat();
  end_late_tests();
  answer_late();
  finish_trials();
  watch_wall_clock();
  if (next_local_time && moment >= *next_local_time) tell_local_time();
  if (next_morning && moment >= *next_morning) tell_morning();
  if (next_checkpoint && moment >= *next_checkpoint) {
    checkpoint_all();
    next_checkpoint = moment + kCheckpointEvery;
  }
}

/// Control does not look at the wall clock; light hours and the record's times follow it.
void Warden::State::watch_wall_clock() {
  const Stamp at = stamp();
  const Duration offset = at.wall.time_since_epoch() - at.boot.time_since_epoch();
  const bool became_set = at.wall_set && !clock_was_set;
  const Duration moved = offset > wall_offset ? offset - wall_offset : wall_offset - offset;
  if (at.wall_set == clock_was_set && moved < kWallJump) return;
  clock_was_set = at.wall_set;
  wall_offset = offset;
  next_local_time = at.boot;
  if (at.wall_set) parts.record.clock_set(at);
  if (!became_set) return;
  mend_phase_clocks();
  date_phases();
  mend_hands();
}

void Warden::State::ask_for_wake() {
  Instant at = *next_checkpoint;
  if (!plans_due.empty()) at = now();
  if (next_local_time) at = std::min(at, *next_local_time);
  if (next_morning) at = std::min(at, *next_morning);
  if (!wakes.empty()) at = std::min(at, wakes.begin()->first);
  for (const auto& [key, alert] : site_alerts) {
    if (alert.first.due()) at = std::min(at, *alert.first.due());
  }
  if (desk.due()) at = std::min(at, *desk.due());
  if (const auto due = channels_due()) at = std::min(at, *due);
  for (const auto& w : waiting) at = std::min(at, w->due);
  if (const auto end = next_trial_end()) at = std::min(at, *end);
  parts.wake_at(at);
}

void Warden::State::tell_local_time() {
  event::LocalTime local;
  if (parts.clock.wall_is_set()) local.second_of_day = parts.clock.local_second_of_day();
  for (auto& [id, air] : airs) step(*air, local);
  use_desk(desk::Time{});  // quiet hours follow local time
  next_local_time = now() + parts.clock.local_time_holds();
  plan_morning();
}

// --- messages -----------------------------------------------------------------------------------

void Warden::State::take_message(const BrokerMessage& message) {
  const auto found = routes.find(message.topic);
  if (found == routes.end()) return;
  for (const Route& route : found->second) {
    switch (route.kind) {
      case Route::Kind::sensor:
        take_reading(route, message);
        break;
      case Route::Kind::room:
        take_room(route, message);
        break;
      case Route::Kind::gone: {
        Air& air = *airs.at(route.chamber);
        const SensorPlan& sensor = air.chamber.plan().sensors[route.sensor];
        if (message.payload == sensor.gone->says) step(air, event::SensorGone{route.sensor});
        break;
      }
    }
  }
}

void Warden::State::take_reading(const Route& route, const BrokerMessage& message) {
  Air& air = *airs.at(route.chamber);
  const SensorPlan& sensor = air.chamber.plan().sensors[route.sensor];
  const std::optional<WallTime> wall =
      clock_was_set ? std::optional(parts.clock.wall()) : std::nullopt;
  const Decoded decoded = decode(sensor, message.payload, wall);
  count(decoded);
  event::Message taken;
  for (Quantity q : kAllQuantities) {
    const DecodedQuantity& value = decoded[q];
    if (value.state != DecodedQuantity::State::taken) continue;
    taken.add({route.sensor, q, value.value, message.retained, value.at_least, decoded.age});
  }
  if (taken.count == 0) return;
  values_taken += taken.count;
  air.air_changed = true;
  step(air, taken);
  if (message.retained) return;
  for (std::size_t i = 0; i < taken.count; ++i) {
    const event::Reading& r = taken.readings[i];
    tell_trials(air, r.quantity);
    parts.record.reading({air.chamber.plan().id, sensor.id, r.quantity, r.value, parts.clock.wall(),
                          clock_was_set, now()});
  }
}

void Warden::State::count(const Decoded& decoded) {
  (decoded.refused() ? messages_refused : messages_taken) += 1;
  refusals.count(decoded);
}

void Warden::State::take_room(const Route& route, const BrokerMessage& message) {
  const RoomSource& around = route.room == event::RoomQuantity::temperature ? plan.room.temperature
                             : route.room == event::RoomQuantity::humidity  ? plan.room.humidity
                                                                            : plan.room.co2;
  const Decoded decoded = decode(*around.sensor, message.payload, std::nullopt);
  count(decoded);
  for (Quantity q : kAllQuantities) {
    if (decoded[q].state != DecodedQuantity::State::taken) continue;
    for (auto& [id, air] : airs) {
      step(*air, event::RoomReading{route.room, decoded[q].value, message.retained});
    }
  }
}

}  // namespace tubwarden
