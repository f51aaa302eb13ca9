// The substrate ceiling: what it locks, what it calls, whose it is, when it lets go.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kAir = Quantity::air_temperature;
constexpr auto kSubstrate = Quantity::substrate_temperature;

Rig::Change hot_tub() {
  return [](Plans& s) {
    s.keep("colonization", kSubstrate, 24, 30);
    s.phase("colonization").light = LightHours{0, 24 * 60};
    s.tubs[0].substrate_ceiling_c = 26.5;
    s.room_is(18, 50);
  };
}

TEST(Ceiling, LocksHeatAndLightAndCallsCoolAndFan) {
  Rig rig(hot_tub());
  rig.start("colonization");
  rig.step(event::LocalTime{12 * 3600});
  rig.air(23);
  rig.substrate(24.0);
  ASSERT_TRUE(rig.runs(mat));
  ASSERT_TRUE(rig.runs(lamp));
  rig.substrate(26.49);
  EXPECT_FALSE(rig.chamber().alerts().size());
  rig.substrate(26.5);
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_FALSE(rig.runs(lamp));
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(fan));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.substrate_ceiling"});
  EXPECT_EQ(rig.chamber().alerts().at(0).rank, AlertRank::now);
  for (const Part part : {mat, lamp, cooler, fan}) {
    EXPECT_NE(rig.why(part).find("substrate ceiling of 26.5 C"), std::string::npos)
        << rig.why(part);
  }

  rig.substrate(25.51);
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_FALSE(rig.runs(lamp));
  EXPECT_TRUE(rig.alerts().empty());
  rig.substrate(25.5);
  EXPECT_FALSE(rig.runs(cooler));
  EXPECT_FALSE(rig.runs(fan));
  EXPECT_TRUE(rig.runs(lamp));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.substrate_ceiling"});
  EXPECT_TRUE(rig.chamber().alerts().empty());
}

TEST(Ceiling, CutsAHeatersShortestRun) {
  Rig rig([](Plans& s) {
    hot_tub()(s);
    s.part(mat).limits.shortest_run = hours(1);
  });
  rig.start("colonization").substrate(24);
  ASSERT_TRUE(rig.runs(mat));
  rig.wait(seconds(1)).substrate(27);
  EXPECT_FALSE(rig.runs(mat));
}

TEST(Ceiling, TheFanIsCalledOnlyWhenTheRoomIsCooler) {
  struct Case {
    std::optional<double> room;
    double air;
    bool runs;
    const char* says;
  };
  const Case cases[] = {{24.5, 25, true, "calls for cooler air"},
                        {24.6, 25, false, "room's air is no cooler"},
                        {30.0, 25, false, "room's air is no cooler"},
                        {std::nullopt, 25, false, "room's air is cooler is not known"}};
  for (const Case& c : cases) {
    Rig rig([&](Plans& s) {
      hot_tub()(s);
      s.room.temperature.fixed = c.room;
    });
    rig.start("colonization").air(c.air);
    rig.substrate(27);
    EXPECT_EQ(rig.runs(fan), c.runs) << rig.why(fan);
    EXPECT_NE(rig.why(fan).find(c.says), std::string::npos) << rig.why(fan);
    EXPECT_TRUE(rig.runs(cooler));
  }
}

TEST(Ceiling, IsJudgedFromTheAirWithoutASubstrateSensor) {
  Rig rig([](Plans& s) {
    hot_tub()(s);
    s.chamber.sensors.pop_back();
  });
  rig.start("colonization");
  rig.air(23.4);
  EXPECT_TRUE(rig.alerts().empty());
  rig.air(23.5);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.substrate_ceiling"});
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_NE(rig.why(cooler).find("may be at 26.5 C by its air"), std::string::npos)
      << rig.why(cooler);
  EXPECT_NE(rig.chamber().alerts().at(0).text.find("may by its air be at 26.5 C"),
            std::string::npos);
  rig.air(22.5);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.substrate_ceiling"});
}

TEST(Ceiling, TheSubstrateItselfWinsOverTheAir) {
  Rig rig(hot_tub());
  rig.start("colonization").substrate(24.6);
  rig.air(25);
  EXPECT_TRUE(rig.alerts().empty()) << "25 + 3 would be over, but the substrate is measured";
}

TEST(Ceiling, TheHottestSensorCounts) {
  Rig rig([](Plans& s) {
    hot_tub()(s);
    for (const char* id : {"bed-2", "bed-3"}) {
      s.chamber.sensors.push_back(s.chamber.sensors[bed_sensor]);
      s.chamber.sensors.back().id = id;
    }
  });
  rig.start("colonization").substrate(24.6);
  rig.step(event::Reading{2, kSubstrate, 24.6, false, false, Duration{0}});
  rig.step(event::Reading{3, kSubstrate, 26.6, false, false, Duration{0}});
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.substrate_ceiling"});
}

TEST(Ceiling, WhatHoldsGoesOnWithoutAReading) {
  Rig rig(hot_tub());
  rig.start("colonization").substrate(27);
  ASSERT_TRUE(rig.runs(cooler));
  rig.wait(minutes(10));
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_EQ(rig.alerts().front(), "raised tub-1.substrate_ceiling");
  EXPECT_EQ(rig.chamber().alerts().size(), 3U) << "the ceiling, and two silent sensors";
}

Rig::Change two_tubs(std::optional<double> first, std::optional<double> second) {
  return [=](Plans& s) {
    hot_tub()(s);
    s.tubs[0].substrate_ceiling_c = first;
    s.tubs.push_back(s.tubs[0]);
    s.tubs[1].id = "tub-2";
    s.tubs[1].substrate_ceiling_c = second;
  };
}

TEST(Ceiling, EveryTubsCeilingCounts) {
  Rig rig(two_tubs(std::nullopt, 26.0));
  rig.start("colonization");
  rig.step(event::PhaseIs{{"tub-2", "grain", rig.now, {}}});
  rig.substrate(26);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-2.substrate_ceiling"});
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_NE(rig.why(cooler).find("ceiling of 26 C"), std::string::npos) << rig.why(cooler);
}

TEST(Ceiling, AnUnconfirmedTubHasItToo) {
  Rig rig(two_tubs(std::nullopt, 26.0));
  rig.start("colonization").substrate(24.2);
  ASSERT_TRUE(rig.runs(mat));
  rig.substrate(26.1);  // nobody has said what is in tub-2
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-2.substrate_ceiling"});
  rig.substrate(25.2);
  EXPECT_FALSE(rig.runs(mat));
}

TEST(Ceiling, IsOffInEmpty) {
  Rig rig(hot_tub());
  rig.start("empty").substrate(35);
  EXPECT_TRUE(rig.alerts().empty());
  EXPECT_FALSE(rig.runs(cooler));
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Ceiling, EmptyingTheTubEndsIt) {
  Rig rig(hot_tub());
  rig.start("colonization").substrate(27);
  ASSERT_TRUE(rig.runs(cooler));
  rig.in_phase("empty");
  EXPECT_FALSE(rig.runs(cooler));
  EXPECT_EQ(rig.alerts(), (std::vector<std::string>{"raised tub-1.substrate_ceiling",
                                                    "returned tub-1.substrate_ceiling"}));
}

TEST(Ceiling, CountsForTheOtherTubThoughTheLeaderIsEmpty) {
  Rig rig(two_tubs(26.5, 26.5));
  rig.start("empty").air(24);
  rig.step(event::PhaseIs{{"tub-2", "colonization", rig.now, {}}});
  rig.substrate(27);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-2.substrate_ceiling"});
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(fan));
  EXPECT_FALSE(rig.runs(mister));
}

TEST(Ceiling, LocksHeatAboveItsSafeLevel) {
  Rig rig([](Plans& s) {
    hot_tub()(s);
    s.keep("casing", kAir, 15, 18);
    s.part(mat).output.safe = kRun;  // frost guard
  });
  rig.start("casing").substrate(27);  // the air is kept, and not known
  EXPECT_FALSE(rig.runs(mat)) << rig.why(mat);
}

TEST(Ceiling, CoolingWaitsUntilHeatingRests) {
  Rig rig([](Plans& s) {
    hot_tub()(s);
    s.part(cooler).limits.shortest_rest = minutes(5);
  });
  rig.start("colonization").substrate(24);
  rig.substrate(27);
  EXPECT_FALSE(rig.runs(cooler)) << "limits stand above";
  rig.wait(minutes(5));
  EXPECT_TRUE(rig.runs(cooler));
}

}  // namespace
}  // namespace tubwarden
