#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/grow/phase_truth.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

std::string ended_text(const Hand& hand) {
  switch (hand.kind) {
    case HandKind::attend:
      return "hands are out of the tub; its phase goes on";
    case HandKind::keep_at:
      return hand.actuator + " is the phase's again";
    case HandKind::trial:
      return hand.actuator + " was tried";
  }
  ENSURE(false);
}

Hand hand_of(const HandTaken& taken, Instant until) {
  return {taken.kind, taken.actuator, taken.level, until, taken.tub};
}

}  // namespace

HandEnded Warden::State::ended(const Air& air, const Hand& hand, const std::string& text) const {
  const auto tub = tubs.find(hand.tub);
  const std::string batch = tub != tubs.end() && tub->second.known ? tub->second.known->batch : "";
  return {hand.tub, air.chamber.plan().id, batch, hand.kind, hand.actuator, text};
}

/// The chamber ended a hand: its time is up, or its output has left the plan.
void Warden::State::hand_over(Air& air, const Hand& hand) {
  if (hand.kind == HandKind::trial && trials.count({air.chamber.plan().id, hand.actuator})) {
    return;  // its entry waits for what the air does
  }
  append({entry("daemon", ended(air, hand, ended_text(hand)))});
  parts.log(fmt::format("{}: {}", hand.tub, ended_text(hand)));
}

/// Hands that an earlier run left open go on for the rest of their time. A trial does not: its run
/// ended with that daemon.
void Warden::State::restore_hands() {
  for (HandOpen& open : std::exchange(hands_to_restore, {})) {
    const auto air = airs.find(open.hand.chamber);
    if (air == airs.end()) {
      hands_to_restore.push_back(std::move(open));  // its file may be broken just now
      continue;
    }
    resume_hand(*air->second, open);
    const bool other_boot = open.stamp.boot_id != parts.clock.boot_id();
    if (other_boot && !parts.clock.wall_is_set()) hands_by_wall.push_back(std::move(open));
  }
}

void Warden::State::resume_hand(Air& air, const HandOpen& open) {
  const Duration left = open.hand.lasts - elapsed_at(open.stamp, Duration{0}, stamp());
  const Hand hand = hand_of(open.hand, now() + left);
  const bool trial = hand.kind == HandKind::trial;
  if (trial || left <= Duration{0}) {
    step(air, event::HandOff{hand.kind, hand.actuator});
    append({entry("daemon", ended(air, hand,
                                  trial ? hand.actuator + "'s trial was cut off by a restart"
                                        : ended_text(hand)))});
    return;
  }
  step(air, event::HandOn{hand});
}

/// The clock has been set: how long the board was off is known now.
void Warden::State::mend_hands() {
  for (const HandOpen& open : std::exchange(hands_by_wall, {})) {
    const auto air = airs.find(open.hand.chamber);
    if (air == airs.end()) continue;
    const auto& hands = air->second->chamber.hands();
    const bool stands = std::any_of(hands.begin(), hands.end(), [&](const Hand& h) {
      return same_place(h, hand_of(open.hand, h.until));
    });
    if (stands) resume_hand(*air->second, open);
  }
}

// --- trials -------------------------------------------------------------------------------------

void Warden::State::begin_trial(Air& air, const std::string& tub, const ActuatorPlan& tried,
                                bool confirms, Duration run) {
  TrialWatch::Before before;
  before.confirms = confirms;
  const auto views = air.chamber.air(now());
  for (Quantity q : kAllQuantities) {
    const QuantityView& view = views[index_of(q)];
    if (view.usable) before.air[index_of(q)] = view.value;
  }
  for (const SensorPlan& sensor : air.chamber.plan().sensors) {
    for (const QuantitySource& read : sensor.quantities) {
      auto& least = before.step[index_of(read.quantity)];
      if (read.step) least = std::max(least.value_or(0.0), *read.step);
    }
  }
  const OutputId id = tried.output.id;
  TrialWatch watch(tried, before, now(), run);
  for (const ActuatorView& view : air.chamber.actuators(now())) {
    if (view.id != tried.id && view.level > kRest) watch.other_runs(view.id);
  }
  trials.erase(id);
  trials.emplace(id, TrialAtWork{std::move(watch), tub, {}});
}

/// A reading has moved the air: those that watch it are told.
void Warden::State::tell_trials(const Air& air, Quantity q) {
  for (auto& [id, trial] : trials) {
    if (trial.verdict || id.chamber != air.chamber.plan().id) continue;
    const QuantityView view = air.chamber.air(now())[index_of(q)];
    if (view.usable) trial.watch.reading(q, *view.value, now());
  }
}

/// Another output of a watched air has started.
void Warden::State::tell_trials(const Air& air, const std::string& started) {
  for (auto& [id, trial] : trials) {
    if (trial.verdict || id.chamber != air.chamber.plan().id || id.actuator == started) continue;
    trial.watch.other_runs(started);
  }
}

void Warden::State::finish_trials() {
  for (auto& [id, trial] : trials) {
    if (trial.verdict || trial.watch.over_at() > now()) continue;
    trial.verdict = trial.watch.told();
    const auto air = airs.find(id.chamber);
    if (air == airs.end()) continue;
    const Hand hand{HandKind::trial, id.actuator, kRun, now(), trial.tub};
    append({entry("daemon", ended(*air->second, hand, *trial.verdict))});
    parts.log(trial.tub + ": " + *trial.verdict);
  }
}

std::optional<Instant> Warden::State::next_trial_end() const {
  std::optional<Instant> next;
  for (const auto& [id, trial] : trials) {
    if (!trial.verdict && (!next || trial.watch.over_at() < *next)) next = trial.watch.over_at();
  }
  return next;
}

}  // namespace tubwarden
