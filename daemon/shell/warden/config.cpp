#include <fmt/format.h>

#include <algorithm>

#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

bool names(const std::vector<std::string>& ids, const std::string& id) {
  return std::find(ids.begin(), ids.end(), id) != ids.end();
}

bool names_output(const std::vector<OutputPlan>& outputs, const OutputPlan& output) {
  return std::find(outputs.begin(), outputs.end(), output) != outputs.end();
}

bool holds_something(const Tub& tub) {
  return tub.known && !tub.known->phase.empty() && tub.known->phase != kPhaseEmpty;
}

}  // namespace

/// Merges what was read with what was there: a broken or vanished part keeps what it had. The tubs
/// whose file has vanished come back.
std::vector<std::string> Warden::State::merge_plan(Loaded& loaded) {
  GrowPlan next = std::move(loaded.grow);
  if (!loaded.site) next.room = plan.room;
  std::vector<std::string> kept_chambers = loaded.broken_chambers;
  std::vector<std::string> gone;
  for (const TubPlan& old : plan.tubs) {
    if (next.tub(old.id)) continue;
    const auto tub = tubs.find(old.id);
    const bool broken = names(loaded.broken_tubs, old.id);
    if (!broken && (tub == tubs.end() || !holds_something(tub->second))) continue;
    if (!broken) gone.push_back(old.id);
    next.tubs.push_back(old);
    kept_chambers.push_back(old.chamber);
  }
  for (const ChamberPlan& old : plan.chambers) {
    if (names(kept_chambers, old.id) && !next.chamber(old.id)) next.chambers.push_back(old);
  }
  plan = std::move(next);
  return gone;
}

/// The tubs of the plan, each with what is known of it.
void Warden::State::take_tubs() {
  std::map<std::string, Tub> now_tubs;
  for (const TubPlan& wanted : plan.tubs) {
    Tub& tub = now_tubs[wanted.id];
    if (const auto old = tubs.find(wanted.id); old != tubs.end()) {
      tub = std::move(old->second);
    } else if (const auto r = remembered.find(wanted.id); r != remembered.end()) {
      tub.known = r->second;
      tub.mark = r->second.checkpoint_elapsed ? r->second.checkpoint : r->second.since;
      tub.mark_elapsed = r->second.checkpoint_elapsed.value_or(r->second.elapsed_before);
      tub.kept = r->second.kept.value_or(KeptSums{});
      tub.previous_kept = r->second.previous_kept;
      tub.began_by_plan = r->second.begun_by_plan;
    }
    tub.plan = wanted;
    tub.file_place = wanted.chamber;
  }
  tubs = std::move(now_tubs);
}

/// Holds each tub's file against the record; `gone` have lost their file.
void Warden::State::settle_tubs(const std::vector<std::string>& gone) {
  for (auto& [id, tub] : tubs) {
    if (tub.known && tub.plan.profile && tub.known->batch == tub.plan.batch &&
        tub.known->profile_text != tub.plan.profile->text) {
      tub.known->profile = tub.plan.profile->name;
      tub.known->profile_text = tub.plan.profile->text;
      append({entry(
          "file", ProfileEdited{tub.plan.batch, tub.plan.profile->name, tub.plan.profile->text})});
    }
    announce(tub);
    settle(tub);
    if (tub.known) publish_phase(tub, "record");
    judge_site(
        {id, "file_gone"}, names(gone, id), kTubFileGrace, AlertRank::today,
        names(gone, id)
            ? fmt::format("{}: its file is gone while it is in phase {}; it keeps what it had. "
                          "Put the file back, or first: tubwarden phase {} empty",
                          id, tub.known->phase, id)
            : fmt::format("{}: its file is back.", id));
  }
}

void Warden::State::take_plan(Loaded loaded) {
  findings = loaded.findings;
  if (loaded.site) {
    if (site && site->site != loaded.site->site) {
      parts.log("tubwarden.yaml: a new site name applies at the next start");
      loaded.site->site = site->site;
    }
    site = loaded.site;
    parts.channels.want(site->channels);
    set_desk_rules();
    set_beats();
    deliver_what_was_left();
  }
  for (auto& [id, tub] : tubs) take_kept(tub);  // by where it stood until now
  const std::vector<ChamberPlan> before = plan.chambers;
  const std::vector<std::string> gone = merge_plan(loaded);
  take_tubs();
  settle_places();
  keep_airs_in_use(before);

  rebuild_airs();
  rebuild_routes();
  restore_hands();
  settle_tubs(gone);
  judge_places();
  withdraw_orphans();

  std::string first;
  for (const Finding& f : findings) {
    parts.log(f.told());
    if (f.severity == Severity::error && first.empty()) first = f.told();
  }
  judge_site(
      {"site", "configuration"}, !first.empty() || source == ConfigSource::last_good, Duration{0},
      AlertRank::today,
      first.empty() ? "The configuration is whole again."
      : source == ConfigSource::last_good
          ? "The configuration folder is broken; the last good copy runs. First error: " + first
          : "The configuration has errors; what they touch keeps what it had. First: " + first);
  next_local_time = now();
}

/// Chambers by the plan: the same ones go on, new ones start safe, old ones end.
void Warden::State::rebuild_airs() {
  std::vector<OutputPlan> outputs;
  std::vector<std::string> begun;
  for (const ChamberPlan& chamber : plan.chambers) {
    for (const ActuatorPlan& a : chamber.actuators) outputs.push_back(a.output);
  }
  for (const auto& [id, air] : airs) {
    for (const ActuatorPlan& a : air->chamber.plan().actuators) {
      // A changed wiring is another output: what its old driver reported no longer counts.
      if (!names_output(outputs, a.output)) reports.erase(a.output.id);
    }
  }
  parts.drivers.want(outputs);

  std::map<std::string, std::unique_ptr<Air>> next;
  for (ChamberPlan chamber : plan.chambers) {
    chamber.leader = leader_of(standing_in(chamber.id));
    std::vector<TubPlan> standing;
    std::vector<TubPhase> phases;
    for (const TubPlan& wanted : plan.tubs) {
      const Tub& tub = tubs.at(wanted.id);
      if (tub.plan.chamber != chamber.id) continue;
      standing.push_back(tub.plan);
      phases.push_back(phase_of(tub));
    }
    auto& air = next[chamber.id];
    if (const auto old = airs.find(chamber.id); old != airs.end()) {
      air = std::move(old->second);
      perform(*air, air->chamber.adopt(chamber, standing, plan.room, now(), phases));
    } else {
      air = std::make_unique<Air>(Chamber(chamber, standing, plan.room, now()));
      if (!is_up) perform(*air, air->chamber.step(event::BrokerDown{}, now()));
      give_learned(*air);
      give_book(*air);
      begun.push_back(chamber.id);
    }
  }
  airs.swap(next);
  for (const std::string& id : begun) give_days(*airs.at(id));
  for (const auto& [id, old] : next) {
    if (!old) continue;  // moved over
    if (old->wake) wakes.erase({*old->wake, id});
    for (const Alert& alert : old->chamber.alerts()) tell({alert, false});
  }
  for (const auto& [id, air] : airs) {
    const auto& actuators = air->chamber.plan().actuators;
    for (std::size_t i = 0; i < actuators.size(); ++i) {
      const auto report = reports.find(actuators[i].output.id);
      if (report == reports.end()) continue;
      const OutputHealth health = report->second.health;
      const bool usable = health == OutputHealth::ready || health == OutputHealth::unconfirmed;
      step(*air, event::OutputUsable{i, usable, report->second.why});
    }
  }
}

void Warden::State::rebuild_routes() {
  routes.clear();
  std::set<std::string> topics;
  const auto lead = [&](const std::string& topic, Route route) {
    routes[topic].push_back(std::move(route));
    topics.insert(topic);
  };
  for (const ChamberPlan& chamber : plan.chambers) {
    for (std::size_t i = 0; i < chamber.sensors.size(); ++i) {
      const SensorPlan& sensor = chamber.sensors[i];
      lead(sensor.topic, {Route::Kind::sensor, chamber.id, i, {}});
      if (sensor.gone) lead(sensor.gone->topic, {Route::Kind::gone, chamber.id, i, {}});
    }
  }
  const auto room = [&](const RoomSource& around, event::RoomQuantity q) {
    if (around.sensor) lead(around.sensor->topic, {Route::Kind::room, "", 0, q});
  };
  room(plan.room.temperature, event::RoomQuantity::temperature);
  room(plan.room.humidity, event::RoomQuantity::humidity);
  room(plan.room.co2, event::RoomQuantity::co2);
  parts.broker.want(std::move(topics));
}

}  // namespace tubwarden
