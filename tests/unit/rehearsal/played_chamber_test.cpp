// The configured chamber as the model plays it: relays move the air, sensors say what they see.
#include "rehearsal/played_chamber.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "core/sensing/decode.hpp"

namespace tubwarden::rehearsal {
namespace {

using testing::ElementsAre;

constexpr Instant kStart{seconds(1000)};
constexpr WallTime kWall{milliseconds(1764068400000)};

QuantitySource source(Quantity q, const std::string& at, SensorUnit unit) {
  QuantitySource s;
  s.quantity = q;
  s.at = at;
  s.unit = unit;
  s.range_low = -1000.0;
  s.range_high = 100000.0;
  return s;
}

ActuatorPlan relay(const std::string& id, Effect effect, double rate,
                   std::optional<Duration> falls_after) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.rate = rate;
  a.output.id = {"tub", id};
  a.output.driver = "mqtt_relay";
  a.output.wiring_json =
      R"({"topic":")" + id + R"(","run":"1","rest":"0","confirm":")" + id + R"(/now"})";
  a.output.falls_by_itself_after = falls_after;
  return a;
}

ChamberPlan chamber() {
  ChamberPlan plan;
  plan.id = "tub";
  plan.net_volume.litres = 60.0;
  SensorPlan air;
  air.id = "air";
  air.topic = "air";
  air.quantities = {source(Quantity::humidity, "/rh", SensorUnit::percent),
                    source(Quantity::air_temperature, "/t", SensorUnit::kelvin)};
  SensorPlan gas;
  gas.id = "gas";
  gas.topic = "air";  // two sensors, one payload
  gas.quantities = {source(Quantity::co2, "/co2", SensorUnit::ppm)};
  plan.sensors = {air, gas};
  plan.actuators = {relay("mister", Effect::humidify, 100.0, std::nullopt),
                    relay("fan", Effect::fresh_air, 2.0, seconds(10))};
  return plan;
}

PlayedChamber played(const ChamberPlan& plan) {
  auto made = PlayedChamber::make(plan, parameters_of(Load::empty, 60.0), {}, {}, 7, kStart);
  EXPECT_TRUE(made.ok());
  return std::move(made).value();
}

std::string text(const std::vector<Word>& words) {
  std::string all;
  for (const Word& w : words) all += w.topic + "=" + w.payload + ";";
  return all;
}

TEST(PlayedChamber, HearsItsRelaysAndConfirms) {
  PlayedChamber tub = played(chamber());
  EXPECT_THAT(tub.hears(), ElementsAre("fan", "mister"));
  EXPECT_EQ(text(tub.confirmations()), "mister/now=0;fan/now=0;");
  EXPECT_EQ(text(tub.heard("mister", "1", kStart + seconds(1))), "mister/now=1;");
  EXPECT_EQ(text(tub.heard("mister", "on", kStart + seconds(2))), "");
  EXPECT_EQ(tub.unknown_words(), 1u);
  EXPECT_EQ(text(tub.heard("elsewhere", "1", kStart + seconds(2))), "");
  EXPECT_DOUBLE_EQ(tub.model().driven().mist_g_h, 100.0);
}

TEST(PlayedChamber, TheAirMovesForAsLongAsTheRelayRan) {
  ModelParameters tight = parameters_of(Load::empty, 60.0);
  tight.tub.leak_per_h = 0.0;
  PlayedChamber tub = std::move(PlayedChamber::make(chamber(), tight, {}, {}, 7, kStart)).value();
  tub.heard("mister", "1", kStart + seconds(60));
  tub.heard("mister", "0", kStart + seconds(78));
  tub.sensors(kStart + seconds(78), kWall);
  const TrueAir air = tub.model().air();
  const Books books = tub.model().books();
  EXPECT_NEAR(tub.model().passed_s(), 78.0, 1e-6);
  EXPECT_NEAR(books.water_g.inside_now - books.water_g.inside_then, 0.5, 1e-9)
      << "100 g/h for 18 s";
  EXPECT_GT(air.humidity_pct, 85.0);
}

TEST(PlayedChamber, ARelayWithATimerFallsWhenItIsNotToldAgain) {
  PlayedChamber tub = played(chamber());
  tub.heard("fan", "1", kStart);
  tub.heard("fan", "1", kStart + seconds(8));
  EXPECT_EQ(tub.next_fall(), kStart + seconds(18));
  EXPECT_EQ(text(tub.fall(kStart + seconds(17))), "");
  EXPECT_EQ(text(tub.fall(kStart + seconds(40))), "fan/now=0;") << "late, and the air still knows";
  EXPECT_NEAR(tub.model().passed_s(), 18.0, 1e-6);
  EXPECT_EQ(tub.next_fall(), std::nullopt);
  EXPECT_DOUBLE_EQ(tub.model().driven().fan_m3_h, 0.0);
}

TEST(PlayedChamber, SensorsOfOneTopicShareAPayloadThatTheirPlansDecode) {
  const ChamberPlan plan = chamber();
  PlayedChamber tub = played(plan);
  const std::vector<Word> words = tub.sensors(kStart + seconds(5), kWall);
  ASSERT_EQ(words.size(), 1u);
  const Decoded air = decode(plan.sensors[0], words[0].payload, kWall);
  const Decoded gas = decode(plan.sensors[1], words[0].payload, kWall);
  const StartAir start;
  EXPECT_NEAR(air[Quantity::humidity].value, start.humidity_pct, 1.0);
  EXPECT_NEAR(air[Quantity::air_temperature].value, start.celsius, 0.3);
  EXPECT_NEAR(gas[Quantity::co2].value, start.co2_ppm, 30.0);
}

TEST(PlayedChamber, ReportsInTheStepTheFolderNames) {
  ChamberPlan plan = chamber();
  plan.sensors[0].quantities[0].step = 7.0;
  PlayedChamber tub = played(plan);
  const std::vector<Word> words = tub.sensors(kStart + seconds(5), kWall);
  const double said = decode(plan.sensors[0], words[0].payload, kWall)[Quantity::humidity].value;
  EXPECT_DOUBLE_EQ(std::fmod(said, 7.0), 0.0) << said;
  EXPECT_NEAR(said, StartAir{}.humidity_pct, 4.0);
}

TEST(PlayedChamber, OutputsThatAreNotOnTheBrokerRest) {
  ChamberPlan plan = chamber();
  plan.actuators[1].output.driver = "gpio_line";
  PlayedChamber tub = played(plan);
  EXPECT_THAT(tub.hears(), ElementsAre("mister"));
  ASSERT_EQ(tub.unplayed().size(), 1u);
  EXPECT_NE(tub.unplayed()[0].find("tub/fan"), std::string::npos);
}

TEST(PlayedChamber, WhatNoPayloadCanServeIsRefused) {
  ChamberPlan plan = chamber();
  plan.sensors[1].quantities[0].at = "/rh/co2";
  EXPECT_FALSE(PlayedChamber::make(plan, parameters_of(Load::empty, 60.0), {}, {}, 1, kStart).ok());
  plan = chamber();
  plan.actuators[0].output.wiring_json = "{}";
  EXPECT_FALSE(PlayedChamber::make(plan, parameters_of(Load::empty, 60.0), {}, {}, 1, kStart).ok());
}

}  // namespace
}  // namespace tubwarden::rehearsal
