// What the grower is told: raised once, returned once, with words that help.
#include "rig.hpp"

namespace tubwarden {
namespace {

using Told = std::vector<std::string>;

Rig::Change warns() {
  return [](Plans& s) {
    s.warn("fruiting", Quantity::humidity, {78.0, 95.0, minutes(10)});
    s.warn("fruiting", Quantity::co2, {std::nullopt, 1500.0, minutes(20)});
    s.never_stale();
  };
}

TEST(Alerts, OutOfBandAfterItsDelayOnce) {
  Rig rig(warns());
  rig.start("fruiting", hours(24)).humidity(77.9);
  rig.wait(minutes(10) - Duration{1});
  EXPECT_EQ(rig.alerts(), Told{});
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.humidity_low"});
  const Alert standing = rig.chamber().alerts().at(0);
  EXPECT_EQ(standing.rank, AlertRank::today);
  EXPECT_EQ(standing.since, rig.now - minutes(10)) << "when it began, not when it was told";
  EXPECT_NE(standing.text.find("tub-1: humidity 77.9 % is below 78 %. Look at the mister"),
            std::string::npos)
      << standing.text;
  for (int i = 0; i < 5; ++i) rig.wait(minutes(10)).humidity(70);
  EXPECT_EQ(rig.alerts(), Told{}) << "once";
  rig.humidity(78.0);
  rig.wait(minutes(1) - Duration{1});
  EXPECT_EQ(rig.alerts(), Told{});
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.humidity_low"});
  EXPECT_TRUE(rig.chamber().alerts().empty());
  rig.wait(hours(5));
  EXPECT_EQ(rig.alerts(), Told{});
}

TEST(Alerts, AShortExcursionIsNotTold) {
  Rig rig(warns());
  rig.start("fruiting", hours(24)).humidity(60);
  rig.wait(minutes(9)).humidity(80);
  rig.wait(minutes(1)).humidity(60);
  rig.wait(minutes(9));
  EXPECT_EQ(rig.alerts(), Told{}) << "the delay began anew";
  rig.wait(minutes(1));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.humidity_low"});
}

TEST(Alerts, EachSideAndQuantityForItself) {
  Rig rig(warns());
  rig.start("fruiting", hours(24)).humidity(96);
  rig.co2(1501);
  rig.wait(minutes(10));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.humidity_high"});
  rig.wait(minutes(10));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.co2_high"});
  rig.humidity(60);
  rig.wait(minutes(1));
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.humidity_high"});
  rig.wait(minutes(9));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.humidity_low"});
  EXPECT_EQ(rig.chamber().alerts().size(), 2U);
}

TEST(Alerts, TheTextsSayWhatToDo) {
  struct Case {
    Quantity q;
    double value;
    const char* words;
    AlertRank rank;
  };
  const Case cases[] = {
      {Quantity::humidity, 99, "humidity 99 % is above 50 %. Look whether a mister leaks",
       AlertRank::today},
      {Quantity::humidity, 1, "humidity 1 % is below 40 %. Look at the mister's water",
       AlertRank::today},
      {Quantity::air_temperature, 60, "air temperature 60 C is above 50 C. Look at the room",
       AlertRank::now},
      {Quantity::air_temperature, 1, "air temperature 1 C is below 40 C. Look at the heater",
       AlertRank::now},
      {Quantity::substrate_temperature, 60, "is above 50 C. Cool the tub soon", AlertRank::now},
      {Quantity::substrate_temperature, 1, "is below 40 C. Look at the heat mat", AlertRank::now},
      {Quantity::co2, 60, "CO2 60 ppm is above 50 ppm. Look at the fan", AlertRank::today},
      {Quantity::co2, 1, "CO2 1 ppm is below 40 ppm. Look at the sensor", AlertRank::today},
  };
  for (const Case& c : cases) {
    Rig rig([&](Plans& s) {
      s.warn("fruiting", c.q, {40.0, 50.0, Duration{0}});
      s.never_stale();
    });
    rig.start("fruiting", hours(24)).reads(c.q, c.value);
    ASSERT_EQ(rig.chamber().alerts().size(), 1U);
    EXPECT_EQ(rig.chamber().alerts()[0].rank, c.rank);
    EXPECT_NE(rig.chamber().alerts()[0].text.find(c.words), std::string::npos)
        << rig.chamber().alerts()[0].text;
  }
}

TEST(Alerts, OffInEmptyAndWhileUnconfirmed) {
  for (const char* phase : {"empty", ""}) {
    Rig rig([](Plans& s) {
      warns()(s);
      s.warn("empty", Quantity::humidity, {78.0, 95.0, minutes(10)});
    });
    rig.start(phase, hours(24)).humidity(20);
    rig.wait(hours(1));
    EXPECT_EQ(rig.alerts(), Told{}) << phase;
  }
}

// --- silent sensors -----------------------------------------------------------------------------

Rig one_sensor(std::vector<Quantity> quantities) {
  Rig rig([&](Plans& s) {
    s.chamber.sensors.pop_back();
    s.chamber.sensors[0].quantities.clear();
    for (Quantity q : quantities) s.chamber.sensors[0].quantities.push_back(source_of(q));
  });
  rig.start("fruiting", hours(24));
  return rig;
}

TEST(Silent, ASensorThatNeverSpokeIsToldAfterItsLimit) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.wait(minutes(2));
  EXPECT_EQ(rig.alerts(), Told{});
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  EXPECT_NE(rig.chamber().alerts()[0].text.find("sensor air (topic cellar/air) has said nothing"),
            std::string::npos)
      << rig.chamber().alerts()[0].text;
  EXPECT_EQ(rig.chamber().alerts()[0].rank, AlertRank::now);
  rig.wait(hours(1));
  EXPECT_EQ(rig.alerts(), Told{});
  rig.humidity(88);
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

TEST(Silent, OneSilentQuantityIsToldByName) {
  Rig rig = one_sensor({Quantity::humidity, Quantity::co2});
  for (int i = 0; i < 4; ++i) {
    rig.humidity(88);
    rig.wait(minutes(1));
  }
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  EXPECT_NE(rig.alerts_text().find("speaks, but has given no CO2 for"), std::string::npos)
      << rig.alerts_text();
  rig.co2(600);
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

TEST(Silent, GoneIsToldAtOnce) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.humidity(88);
  rig.step(event::SensorGone{0});
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  EXPECT_NE(rig.alerts_text().find("went off the broker"), std::string::npos) << rig.alerts_text();
  rig.humidity(88);
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

TEST(Silent, AnOutageOfTheBrokerIsTheBrokersAlert) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.humidity(88);
  rig.step(event::BrokerDown{});
  rig.wait(hours(1));
  EXPECT_EQ(rig.alerts(), Told{});
  rig.step(event::BrokerUp{});
  EXPECT_EQ(rig.alerts(), Told{}) << "the sensor has its time anew";
  rig.wait(minutes(2) + Duration{1});
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
}

TEST(Silent, TheBrokersReturnIsNotTheSensors) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.wait(minutes(3));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  rig.step(event::BrokerDown{});
  rig.step(event::BrokerUp{});
  rig.wait(minutes(1));
  EXPECT_EQ(rig.alerts(), Told{}) << "it still has said nothing";
  rig.wait(minutes(5));
  EXPECT_EQ(rig.alerts(), Told{});
  rig.humidity(88);
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

TEST(Silent, IsNotMissedInEmpty) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.wait(minutes(3));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  rig.in_phase("empty");
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

// --- what has left the plan ---------------------------------------------------------------------

TEST(Left, ASensorsAlertReturnsWithTheSensor) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.wait(minutes(3));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  rig.adopt([](Plans& s) {
    s.chamber.sensors[0].id = "other";
    s.chamber.sensors[0].topic = "cellar/other";
  });
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
  EXPECT_TRUE(rig.chamber().alerts().empty());
}

TEST(Left, AnotherTopicUnderTheSameNameIsHeardBeforeItReturns) {
  Rig rig = one_sensor({Quantity::humidity});
  rig.wait(minutes(3));
  EXPECT_EQ(rig.alerts(), Told{"raised tub-1.sensor_air_stale"});
  rig.adopt([](Plans& s) { s.chamber.sensors[0].topic = "cellar/other"; });
  EXPECT_EQ(rig.alerts(), Told{});
  rig.humidity(88);
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.sensor_air_stale"});
}

TEST(Left, ATubsCeilingAlertReturnsWithTheTub) {
  Rig rig([](Plans& s) {
    s.tubs[0].substrate_ceiling_c = 26.5;
    s.tubs.push_back(s.tubs[0]);
    s.tubs[1].id = "tub-2";
  });
  rig.start("fruiting");
  rig.step(event::PhaseIs{{"tub-2", "fruiting", rig.now, {}}});
  rig.substrate(27);
  EXPECT_EQ(rig.alerts(),
            (Told{"raised tub-1.substrate_ceiling", "raised tub-2.substrate_ceiling"}));
  rig.adopt([](Plans& s) { s.tubs.pop_back(); });
  EXPECT_EQ(rig.alerts(), Told{"returned tub-2.substrate_ceiling"});
  rig.adopt([](Plans& s) { s.tubs[0].substrate_ceiling_c.reset(); });
  EXPECT_EQ(rig.alerts(), Told{"returned tub-1.substrate_ceiling"});
  EXPECT_TRUE(rig.chamber().alerts().empty());
}

}  // namespace
}  // namespace tubwarden
