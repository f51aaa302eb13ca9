#include <algorithm>

#include "core/chamber/wish.hpp"

namespace tubwarden {

const Hand* Chamber::State::hand(HandKind kind, const std::string& actuator) const {
  for (const Hand& h : hands) {
    if (h.kind == kind && h.actuator == actuator) return &h;
  }
  return nullptr;
}

void Chamber::State::take_hand(const Hand& taken) {
  std::erase_if(hands, [&](const Hand& h) { return same_place(h, taken); });
  hands.push_back(taken);
}

void Chamber::State::drop_hand(HandKind kind, const std::string& actuator) {
  std::erase_if(hands, [&](const Hand& h) { return h.kind == kind && h.actuator == actuator; });
}

void Chamber::State::end_hands(Effects& effects, Instant now) {
  const auto over = [&](const Hand& h) {
    return h.until <= now ||
           (h.kind != HandKind::attend &&
            std::none_of(plan.actuators.begin(), plan.actuators.end(),
                         [&](const ActuatorPlan& a) { return a.id == h.actuator; }));
  };
  for (const Hand& h : hands) {
    if (over(h)) effects.hands_over.push_back(h);
  }
  std::erase_if(hands, over);
  for (const Hand& h : hands) wake_by(effects, h.until, now);
}

std::optional<Wish> attended_wish(const Chamber::State& s) {
  const Hand* attend = s.hand(HandKind::attend);
  if (!attend) return std::nullopt;
  Wish wish = resting(Why::attended);
  wish.cuts = true;
  wish.reason.until = attend->until;
  return wish;
}

std::optional<Wish> handed_wish(const Chamber::State& s, const ActuatorPlan& plan, Instant now) {
  const Hand* trial = s.hand(HandKind::trial, plan.id);
  const Hand* hand = trial ? trial : s.hand(HandKind::keep_at, plan.id);
  if (!hand) return std::nullopt;
  const bool runs = hand->level > kRest;
  // A heater that nobody watches warms until something gives.
  if (runs && !trial && plan.effect == Effect::heat && !s.of(Quantity::air_temperature).sensed &&
      !s.of(Quantity::substrate_temperature).sensed) {
    return safely(Why::hand_blind);
  }
  Wish wish = resting(trial ? Why::tried : runs ? Why::held_running : Why::held_resting);
  wish.run = runs;
  wish.cuts = !runs && plan.effect != Effect::cool;
  wish.reason.until = hand->until;
  if (trial) wish.run_for = hand->until - now;
  return wish;
}

}  // namespace tubwarden
