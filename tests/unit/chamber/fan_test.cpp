// The fan and its masters, by phase: who calls, who forbids.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kAir = Quantity::air_temperature;
constexpr auto kSubstrate = Quantity::substrate_temperature;
constexpr auto kCo2 = Quantity::co2;

bool says(const std::string& sentence, const std::string& word) {
  return sentence.find(word) != std::string::npos;
}

// --- temperature --------------------------------------------------------------------------------

Rig::Change keeps_air(const std::string& phase, std::optional<double> room) {
  return [=](Plans& s) {
    s.keep(phase, kAir, 15, 19);
    s.room.temperature.fixed = room;
  };
}

TEST(Fan, TemperatureCallsWhenTheRoomIsCooler) {
  struct Case {
    std::optional<double> room;
    double air;
    bool runs;
  };
  const Case cases[] = {{14, 18.1, true},  {17.6, 18.1, true},          {17.7, 18.1, false},
                        {14, 18.0, false}, {std::nullopt, 30.0, false}, {25, 18.5, false}};
  for (const Case& c : cases) {
    Rig rig(keeps_air("casing", c.room));
    rig.start("casing").air(c.air);
    EXPECT_EQ(rig.runs(fan), c.runs) << c.room.value_or(-99) << " " << rig.why(fan);
  }
}

TEST(Fan, TemperatureStopsAtTheMiddle) {
  Rig rig(keeps_air("casing", 10.0));
  rig.start("casing").air(18.5);
  EXPECT_TRUE(rig.runs(fan));
  EXPECT_TRUE(says(rig.why(fan), "air temperature is 18.5 C; it starts above 18 C and stops at"))
      << rig.why(fan);
  rig.air(17.1);
  EXPECT_TRUE(rig.runs(fan));
  rig.air(17.0);
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Fan, AWarmSubstrateIsNotCooledWithAirWarmerThanTheTubs) {
  Rig rig([](Plans& s) {
    s.keep("colonization", kSubstrate, 24, 25.6);
    s.room.temperature.fixed = 24;
  });
  rig.start("colonization").air(23);
  rig.substrate(26);
  EXPECT_FALSE(rig.runs(fan)) << "the room at 24 C would warm the air of 23 C";
  EXPECT_TRUE(says(rig.why(fan), "the room's air is no cooler")) << rig.why(fan);
  rig.air(25);
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Fan, TemperatureForbidsWhatWouldPushTheAirOut) {
  struct Case {
    double room, air;
    bool runs;
  };
  const Case cases[] = {
      {14.9, 16.0, false},                      // cold room, air in the lower quarter
      {14.9, 16.1, true},                       // ... above it
      {15.0, 15.5, true},                       // a room inside the band harms nothing
      {19.1, 18.0, false},                      // hot room, air in the upper quarter
      {19.1, 17.9, true},  {14.0, 13.0, true},  // a cold room that is warmer than the air
  };
  for (const Case& c : cases) {
    Rig rig([&](Plans& s) {
      keeps_air("casing", c.room)(s);
      s.phase("casing").fresh_air = FreshAirFloor{1000, minutes(15)};  // calls always
    });
    rig.start("casing").air(c.air);
    EXPECT_EQ(rig.runs(fan), c.runs) << c.room << " " << c.air << " " << rig.why(fan);
    if (!c.runs) {
      EXPECT_TRUE(
          says(rig.why(fan), c.room < 15 ? "would push it below 15 C" : "would push it above 19 C"))
          << rig.why(fan);
    }
  }
}

TEST(Fan, AForbidderWaitsForTheShortestRunButNotOutsideTheBand) {
  Rig rig([](Plans& s) {
    keeps_air("casing", 10.0)(s);
    s.part(fan).limits.shortest_run = minutes(1);
  });
  rig.start("casing").air(18.5);
  ASSERT_TRUE(rig.runs(fan));
  rig.wait(seconds(1)).air(15.5);
  EXPECT_TRUE(rig.runs(fan)) << "limits stand above masters";
  EXPECT_TRUE(says(rig.why(fan), "its shortest run holds it for another 59s")) << rig.why(fan);
  rig.wait(seconds(1)).air(14.9);
  EXPECT_FALSE(rig.runs(fan)) << "lowering never below low";
}

// --- CO2 ----------------------------------------------------------------------------------------

TEST(Fan, Co2HasNoCallInTheEarlierPhases) {
  for (const char* phase : {"grain", "colonization", "casing"}) {
    Rig rig([&](Plans& s) {
      s.keep_below(phase, kCo2, 1000);
      s.part(fan).output.safe = kRun;
    });
    rig.start(phase).co2(5000);
    EXPECT_FALSE(rig.runs(fan)) << phase;
    rig.wait(minutes(5));
    EXPECT_FALSE(rig.runs(fan)) << phase << ": nor is the fan blind for want of it";
  }
  for (const char* phase : {"pinning", "fruiting", "second-flush"}) {
    Rig rig([&](Plans& s) { s.keep_below(phase, kCo2, 1000); });
    rig.start(phase).co2(5000);
    EXPECT_TRUE(rig.runs(fan)) << phase;
  }
}

// --- the order ----------------------------------------------------------------------------------

Rig::Change contested(const std::string& phase) {
  return [=](Plans& s) {
    s.keep(phase, kAir, 15, 19);
    s.keep_below(phase, kCo2, 1000);
    s.keep(phase, kHumidity, 85, 90);
    s.room_is(5, 50);
    s.tubs[0].substrate_ceiling_c = 26.5;
  };
}

TEST(Fan, ThePhasesOrderDecides) {
  // Cold air that the room would chill further, and something that calls.
  struct Case {
    const char* phase;
    const char* caller;
    bool runs;
  };
  const Case cases[] = {
      {"fruiting", "co2", true},     {"fruiting", "humidity", true}, {"fruiting", "ceiling", true},
      {"fruiting", "floor", false},  {"pinning", "co2", true},       {"pinning", "humidity", true},
      {"casing", "humidity", false}, {"casing", "ceiling", true},    {"casing", "floor", false},
      {"grain", "humidity", false},  {"grain", "ceiling", true},
  };
  for (const Case& c : cases) {
    const std::string caller = c.caller;
    Rig rig([&](Plans& s) {
      contested(c.phase)(s);
      if (caller == "floor") s.phase(c.phase).fresh_air = FreshAirFloor{1000, minutes(15)};
    });
    rig.start(c.phase);
    rig.wait(minutes(3));
    rig.air(15.5);
    rig.co2(caller == "co2" ? 3000 : 500);
    rig.humidity(caller == "humidity" ? 99 : 88);
    rig.substrate(caller == "ceiling" ? 30 : 20);
    EXPECT_EQ(rig.runs(fan), c.runs) << c.phase << " " << c.caller << ": " << rig.why(fan);
  }
}

// --- humidity -----------------------------------------------------------------------------------

TEST(Fan, HumidityHighNeedsDrierAirOutside) {
  struct Case {
    std::optional<double> room_c, room_rh;
    double air_c, rh;
    bool runs;
    const char* why;
  };
  const Case cases[] = {
      {20, 50, 17, 95, true, "starts above 88.75 %"},
      {17, 94, 17, 95, true, "starts above 88.75 %"},
      // Wetter in grams though lower in percent: 25 C at 70 % holds more than 17 C at 95 %.
      {25, 70, 17, 95, false, "the room's air is no drier"},
      {17, 95, 17, 95, false, "the room's air is no drier"},
      {std::nullopt, 50, 17, 95, false, "drier is not known"},
      {20, std::nullopt, 17, 95, false, "drier is not known"},
      {20, 50, 17, 88.75, false, "nothing asks for fresh air"},
  };
  for (const Case& c : cases) {
    Rig rig([&](Plans& s) {
      s.keep("fruiting", kHumidity, 85, 90);
      s.room.temperature.fixed = c.room_c;
      s.room.humidity.fixed = c.room_rh;
    });
    rig.start("fruiting");
    rig.wait(minutes(3));
    rig.air(c.air_c);
    rig.humidity(c.rh);
    EXPECT_EQ(rig.runs(fan), c.runs) << c.rh << ": " << rig.why(fan);
    EXPECT_TRUE(says(rig.why(fan), c.why)) << rig.why(fan);
  }
}

TEST(Fan, HumidityHighWaitsForTheLastMistToSettle) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.never_stale();
    s.part(mister).limits.shortest_run = seconds(5);
  });
  rig.start("fruiting");
  rig.wait(minutes(3)).air(17);
  rig.humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(seconds(3)).humidity(89);
  ASSERT_TRUE(rig.runs(mister)) << "its shortest run";
  EXPECT_FALSE(rig.runs(fan)) << "while it mists";
  rig.wait(seconds(2));
  ASSERT_FALSE(rig.runs(mister));
  EXPECT_TRUE(says(rig.why(fan), "the last mist settles first for another 2m")) << rig.why(fan);
  rig.wait(seconds(120) - Duration{1});
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(Duration{1});
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Fan, AStartCountsAsAMistJustEnded) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.never_stale();
  });
  rig.start("fruiting").air(17);
  rig.humidity(97);
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(seconds(120));
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Fan, AMistThatItsDriverEndedCountsToo) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.never_stale();
  });
  rig.start("fruiting");
  rig.wait(minutes(3)).air(17);
  rig.humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(seconds(1));
  rig.step(event::OutputUsable{mister, false, "its host ended"});
  rig.humidity(97);
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(seconds(119));
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(seconds(1));
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Fan, ARoomSensorGoneStaleCallsNoMore) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.never_stale();
    s.room.temperature.fixed = 20;
    s.room.humidity.sensor = SensorPlan{};
    s.room.humidity.sensor->stale_after = minutes(1);
  });
  rig.start("fruiting").air(17);
  rig.wait(minutes(3)).humidity(97);
  EXPECT_FALSE(rig.runs(fan));
  rig.step(event::RoomReading{event::RoomQuantity::humidity, 50, true});
  EXPECT_FALSE(rig.runs(fan)) << "retained: of unknown age";
  rig.step(event::RoomReading{event::RoomQuantity::humidity, 50, false});
  EXPECT_TRUE(rig.runs(fan));
  rig.wait(minutes(1));
  EXPECT_TRUE(rig.runs(fan));
  rig.wait(Duration{1});
  EXPECT_FALSE(rig.runs(fan)) << "woken by itself";
  rig.step(event::RoomReading{event::RoomQuantity::humidity, 50, false});
  EXPECT_TRUE(rig.runs(fan));
  rig.step(event::BrokerDown{});
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Fan, YieldsItsShortestRunBelowTheBand) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.part(fan).limits.shortest_run = minutes(1);
  });
  rig.start("fruiting").air(17);
  rig.wait(minutes(2));
  rig.air(17);
  rig.humidity(97);
  ASSERT_TRUE(rig.runs(fan));
  rig.wait(seconds(1)).humidity(86);
  EXPECT_TRUE(rig.runs(fan)) << "its shortest run";
  rig.wait(seconds(1)).humidity(84.9);
  EXPECT_FALSE(rig.runs(fan)) << "lowering never below low";
}

// --- blindness ----------------------------------------------------------------------------------

TEST(Fan, StandsSafeWhenAMasterIsBlind) {
  Rig rig([](Plans& s) {
    s.keep_below("fruiting", kCo2, 1000);
    s.part(fan).output.safe = 300;
  });
  rig.start("fruiting").co2(600);
  EXPECT_EQ(rig.level(fan), kRest);
  rig.wait(minutes(2) + Duration{1});
  EXPECT_EQ(rig.level(fan), 300U);
  EXPECT_TRUE(rig.last_command(fan).safe);
  EXPECT_TRUE(says(rig.why(fan), "its safe 30 %")) << rig.why(fan);
  EXPECT_TRUE(says(rig.why(fan), "until a live CO2 reading comes")) << rig.why(fan);
}

TEST(Fan, AnAbsentQuantityIsNotBlindness) {
  Rig rig([](Plans& s) {
    s.keep_below("fruiting", kCo2, 1000);
    s.chamber.sensors[air_sensor].quantities.pop_back();  // no CO2 sensor at all
    s.part(fan).output.safe = kRun;
  });
  rig.start("fruiting");
  EXPECT_EQ(rig.level(fan), kRest) << rig.why(fan);
}

}  // namespace
}  // namespace tubwarden
