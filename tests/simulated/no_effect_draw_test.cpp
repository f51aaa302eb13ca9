// Drawn worlds with their sensors' troubles, lids and hands: what works is never told to move
// nothing. TUBWARDEN_TUB_DAYS=N draws so many tub-days instead, 300 at most.
#include <gtest/gtest.h>

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <cstring>

#include "rehearsal/world.hpp"
#include "simulated/draw.hpp"

namespace tubwarden::rehearsal {
namespace {

#if defined(__OPTIMIZE__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
constexpr std::uint64_t kQuietDays = 60;  // a few seconds
#else
constexpr std::uint64_t kQuietDays = 8;
#endif

std::uint64_t quiet_days() {
  const char* text = std::getenv("TUBWARDEN_TUB_DAYS");
  std::uint64_t number = kQuietDays;
  if (text != nullptr) std::from_chars(text, text + std::strlen(text), number);
  return std::min<std::uint64_t>(number, 300);
}

/// What moves a fifth of its rate is as good as dead, and may be told.
constexpr double kAsGoodAsDead = 0.2;

bool dead_somewhen(const WorldPlan& plan, std::size_t actuator) {
  const Effect effect = plan.chamber.actuators[actuator].effect;
  const bool thermal = effect == Effect::heat || effect == Effect::cool;
  if (actuator < plan.strengths.size() && plan.strengths[actuator] < kAsGoodAsDead) return true;
  return std::any_of(plan.faults.begin(), plan.faults.end(), [&](const Fault& f) {
    if (f.kind == Fault::Kind::actuator_dead && f.index == actuator) return true;
    // A probe that drifts by some kelvin an hour looks the same as a mat that is cold.
    const bool warmth = f.quantity && *f.quantity != Quantity::humidity;
    return thermal && warmth && f.kind == Fault::Kind::sensor_drifting;
  });
}

TEST(NoEffectOfDrawnTubs, IsNeverToldOfWhatWorks) {
  std::uint64_t judged = 0;
  for (std::uint64_t seed = 1; seed <= quiet_days(); ++seed) {
    WorldPlan plan = draw_world(seed, hours(24));
    // Without it no heater is judged.
    for (TubPlan& tub : plan.tubs) tub.substrate_kg = plan.model.crop.substrate_kg;
    World world(plan);
    world.run(hours(24));
    for (std::size_t i = 0; i < plan.chamber.actuators.size(); ++i) {
      if (dead_somewhen(plan, i)) continue;
      ++judged;
      const std::string cause = "actuator_" + plan.chamber.actuators[i].id + "_no_effect";
      for (const AlertChange& a : world.alerts()) {
        if (!a.raised || a.alert.key.cause != cause) continue;
        ADD_FAILURE() << "seed " << seed << ": " << a.alert.text << "\n" << told(plan);
      }
    }
  }
  EXPECT_GT(judged, quiet_days());
}

}  // namespace
}  // namespace tubwarden::rehearsal
