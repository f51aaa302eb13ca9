// A short grow played whole: what a fault and a room do to it, and that it replays.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "rehearsal/grow_play.hpp"
#include "unit/rehearsal/grow_rig.hpp"

namespace tubwarden::rehearsal {
namespace {

using testing::IsEmpty;

constexpr Duration kTwoDays = hours(48);
constexpr Duration kOneDay = hours(24);

PlayedAir play(const GrowOrder& order, Observer* also = nullptr) {
  const auto planned = plan_grow(a_grow(), order);
  EXPECT_TRUE(planned.ok());
  return play_air(planned->airs.at(0), order.length, {}, also);
}

GrowOrder ordered(Duration length) {
  GrowOrder order;
  order.length = length;
  order.room = room_day_of(a_grow().room);
  return order;
}

double true_share(const PlayedAir& air, std::size_t phase, Quantity q) {
  return air.tubs.at(0).phases.at(phase).quantities[index_of(q)].true_s.of().value_or(-1.0);
}

double misted_g(const PlayedAir& air) {
  double g = 0.0;
  for (const PhaseTally& phase : air.tubs.at(0).phases) g += phase.runs.at(0).amount;
  return g;
}

TEST(RehearsedGrow, GoesThroughItsPhasesAndKeepsThem) {
  const PlayedAir air = play(ordered(kTwoDays));
  EXPECT_THAT(air.broken, IsEmpty());
  EXPECT_EQ(air.passed, kTwoDays);
  const auto& phases = air.tubs.at(0).phases;
  ASSERT_EQ(phases.size(), 3u);
  double all_s = 0.0;
  for (const PhaseTally& phase : phases) {
    all_s += phase.quantities[index_of(Quantity::humidity)].true_s.all;
  }
  EXPECT_NEAR(all_s, seconds_of(kTwoDays), 1.0);  // a band is kept from the first second on
  // What the figures of the bench ask of such a tub, less the approach.
  EXPECT_GT(true_share(air, 2, Quantity::humidity), 0.85);
  EXPECT_GT(true_share(air, 2, Quantity::co2), 0.85);
  EXPECT_GT(phases[2].watered_g, 0.0);
  EXPECT_DOUBLE_EQ(phases[0].watered_g, 0.0);
  EXPECT_GT(phases[2].runs[1].starts, 0);
  EXPECT_GT(misted_g(air), 1.0);
}

TEST(RehearsedGrow, ReplaysToTheDigitAndPlainOnOffDoesWorse) {
  GrowOrder order = ordered(kOneDay);
  order.from = kPhaseFruiting;
  const PlayedAir once = play(order);
  const PlayedAir again = play(order);
  EXPECT_EQ(once.turns, again.turns);
  EXPECT_EQ(misted_g(once), misted_g(again));
  EXPECT_EQ(true_share(once, 0, Quantity::humidity), true_share(again, 0, Quantity::humidity));
  order.seed = 2;
  EXPECT_NE(misted_g(play(order)), misted_g(once));
  order.seed = 1;
  order.control = Control::hysteresis;
  const PlayedAir plain = play(order);
  EXPECT_LT(true_share(plain, 0, Quantity::humidity),
            true_share(once, 0, Quantity::humidity) - 0.1);
}

TEST(RehearsedGrow, FeelsAnEmptyTankADeadSensorAndARestart) {
  GrowOrder order = ordered(kTwoDays);
  order.from = kPhaseFruiting;
  const PlayedAir sound = play(order);
  order.faults["tub-1"] = {
      {Fault::Kind::actuator_dead, 0, hours(6), hours(16), 0.0, {}},
      {Fault::Kind::sensor_dead, 0, hours(20), hours(22), 0.0, {}},
      {Fault::Kind::daemon_away, 0, hours(30), hours(31), 0.0, {}},
  };
  const PlayedAir hurt = play(order);
  EXPECT_THAT(hurt.broken, IsEmpty());
  EXPECT_EQ(hurt.passed, kTwoDays);
  EXPECT_LT(true_share(hurt, 0, Quantity::humidity),
            true_share(sound, 0, Quantity::humidity) - 0.05);
  const auto& alerts = hurt.tubs.at(0).phases.at(0).alerts;
  EXPECT_EQ(alerts.count("sensor_air_stale") + alerts.count("sensor_air_late"), 1u)
      << testing::PrintToString(alerts);
  EXPECT_THAT(sound.tubs.at(0).phases.at(0).alerts, IsEmpty());
}

TEST(RehearsedGrow, MistsMoreInADryRoom) {
  GrowOrder order = ordered(kOneDay);
  order.from = kPhaseFruiting;
  const PlayedAir damp = play(order);
  RoomSeries dry;
  dry.humidity_pct = {{0.0, 25.0}, {86400.0, 25.0}};
  dry.length_s = 86400.0;
  order.room.series = std::make_shared<const RoomSeries>(dry);
  EXPECT_GT(misted_g(play(order)), 1.3 * misted_g(damp));
}

}  // namespace
}  // namespace tubwarden::rehearsal
