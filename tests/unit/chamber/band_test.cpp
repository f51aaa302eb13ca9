// Bands and the actuators that serve them: where a run starts, where it stops, what cuts it short.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kAir = Quantity::air_temperature;
constexpr auto kSubstrate = Quantity::substrate_temperature;
constexpr auto kCo2 = Quantity::co2;

/// A reading after a pause, and whether the part runs then.
struct Moment {
  double value;
  Duration after;
  bool runs;
};

void walk(Rig& rig, Quantity q, Part part, const std::vector<Moment>& moments) {
  for (std::size_t i = 0; i < moments.size(); ++i) {
    rig.wait(moments[i].after);
    rig.reads(q, moments[i].value);
    EXPECT_EQ(rig.runs(part), moments[i].runs)
        << "moment " << i << ", value " << moments[i].value << ": " << rig.why(part);
  }
}

TEST(Band, MistsAsTheGrowerIsPromised) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).limits = {seconds(2), seconds(5), Duration{0}, 0};
  });
  rig.start("fruiting");
  walk(rig, kHumidity, mister,
       {{83.1, seconds(10), true},
        {87.0, seconds(10), true},
        {87.6, seconds(10), false},
        {86.5, seconds(10), false},
        {86.2, seconds(10), true},
        // Inside the shortest run: above the middle it goes on, beyond the far edge it does not.
        {88.0, milliseconds(500), true},
        {91.0, milliseconds(500), false}});
}

TEST(Band, TheFarEdgeItselfIsNotBeyondIt) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).limits.shortest_run = seconds(10);
    s.part(dryer).limits.shortest_run = seconds(10);
  });
  rig.start("fruiting");
  walk(rig, kHumidity, mister,
       {{80, seconds(1), true}, {90.0, seconds(1), true}, {90.01, seconds(1), false}});
  rig.wait(seconds(10)).humidity(87.5);  // the dryer, too, has begun meanwhile
  ASSERT_FALSE(rig.runs(dryer));
  walk(rig, kHumidity, dryer,
       {{95, seconds(1), true}, {85.0, seconds(1), true}, {84.99, seconds(1), false}});
}

TEST(Band, WaitsForItsShortestRestAndThenRuns) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).limits.shortest_rest = seconds(20);
  });
  rig.start("fruiting");
  rig.wait(seconds(7)).humidity(80);
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_EQ(rig.last.next_wake, rig.now + seconds(13));
  rig.wait(seconds(12));
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(seconds(1));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Band, BetweenTheStartPointsNothingStarts) {
  for (const double value : {86.25, 87.0, 87.5, 88.0, 88.75}) {
    Rig rig([](Plans& s) { s.keep("fruiting", kHumidity, 85, 90); });
    rig.start("fruiting").humidity(value);
    EXPECT_FALSE(rig.runs(mister)) << value;
    EXPECT_FALSE(rig.runs(dryer)) << value;
  }
}

TEST(Band, DriesFromAboveToTheMiddle) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(dryer).limits.shortest_run = minutes(1);
  });
  rig.start("fruiting");
  walk(rig, kHumidity, dryer,
       {{88.76, seconds(1), true},
        {87.6, minutes(2), true},
        {87.5, seconds(1), false},
        {88.7, seconds(1), false},
        {95.0, seconds(1), true},
        {86.0, seconds(1), true},     // its shortest run
        {84.9, seconds(1), false}});  // lowering never below low
}

TEST(Band, HeatsTheSubstrateByItsOwnSensor) {
  Rig rig([](Plans& s) { s.keep("fruiting", kSubstrate, 24, 25.6); });
  rig.start("fruiting");
  rig.air(10);  // the air has no say
  walk(rig, kSubstrate, mat,
       {{24.4, seconds(1), false},
        {24.39, seconds(1), true},
        {24.7, seconds(1), true},
        {24.8, seconds(1), false},
        {24.41, seconds(1), false}});
}

TEST(Band, HeatsTheAirWhereTheAirIsKept) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 19);
    s.warn("fruiting", kSubstrate, {20.0, 26.0, minutes(10)});
  });
  rig.start("fruiting");
  rig.substrate(10);  // only warned about
  walk(rig, kAir, mat,
       {{16.0, seconds(1), false},
        {15.9, seconds(1), true},
        {16.9, seconds(1), true},
        {17.0, seconds(1), false}});
}

TEST(Band, ACompressorKeepsItsShortestRunBelowTheBand) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 19);
    s.part(cooler).limits.shortest_run = minutes(3);
    s.part(mat).limits.shortest_run = minutes(3);
  });
  rig.start("fruiting").air(18.1);
  ASSERT_TRUE(rig.runs(cooler));
  rig.wait(seconds(30)).air(14.0);
  EXPECT_TRUE(rig.runs(cooler)) << "shortest_run yields to the far edge, except for cool";
  EXPECT_FALSE(rig.runs(mat)) << "never together";
  EXPECT_NE(rig.why(mat).find("never run together"), std::string::npos) << rig.why(mat);
  for (int i = 0; i < 3; ++i) rig.wait(seconds(50)).air(14.0);
  EXPECT_FALSE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(mat));
  rig.wait(seconds(10)).air(19.1);
  EXPECT_FALSE(rig.runs(mat)) << "a heater yields";
  EXPECT_TRUE(rig.runs(cooler));
}

TEST(Band, HeatingTakesOverInTheTurnCoolingEnds) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 19);
    s.part(cooler).limits.shortest_run = minutes(1);
  });
  rig.start("fruiting").air(18.5);
  rig.wait(seconds(1)).air(12);
  ASSERT_TRUE(rig.runs(cooler));
  rig.wait(seconds(59));  // no reading comes: the chamber asked to be woken
  EXPECT_FALSE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(mat));
}

TEST(Band, HeatAndCoolNeverRunTogether) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 19);
    s.part(cooler).limits = {seconds(40), seconds(20), Duration{0}, 0};
    s.part(mat).limits = {seconds(30), seconds(10), Duration{0}, 0};
  });
  rig.start("fruiting");
  int both = 0, heated = 0, cooled = 0;
  for (int i = 0; i < 2000; ++i) {
    rig.wait(milliseconds(700));
    rig.air(12.0 + (i * 7919 % 1000) / 100.0);
    both += rig.runs(mat) && rig.runs(cooler);
    heated += rig.runs(mat);
    cooled += rig.runs(cooler);
  }
  EXPECT_EQ(both, 0);
  EXPECT_GT(heated, 100);
  EXPECT_GT(cooled, 100);
}

TEST(Band, KeepAboveRaisesOnly) {
  Rig rig([](Plans& s) { s.keep_above("fruiting", kHumidity, 90); });
  rig.start("fruiting");
  // The raising half of [90, 100]: below 92.5, until 95.
  walk(rig, kHumidity, mister,
       {{92.5, seconds(1), false},
        {92.4, seconds(1), true},
        {94.9, seconds(1), true},
        {95.0, seconds(1), false}});
  rig.humidity(99.9);
  EXPECT_FALSE(rig.runs(dryer));
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Band, KeepBelowIsTheLoweringHalfAboveTheRoom) {
  Rig rig([](Plans& s) { s.keep_below("fruiting", kCo2, 1000); });
  rig.start("fruiting");
  // [420, 1000]: above 1000 - 580/4 = 855, until 710.
  walk(rig, kCo2, fan,
       {{855, seconds(1), false},
        {856, seconds(1), true},
        {711, seconds(1), true},
        {710, seconds(1), false},
        {854, seconds(1), false}});
  ASSERT_TRUE(rig.view(kCo2).keep);
  EXPECT_EQ(*rig.view(kCo2).keep, (Band{420, 1000}));
}

TEST(Band, KeepBelowFollowsTheRoomsOwnCo2) {
  Rig rig([](Plans& s) {
    s.keep_below("fruiting", kCo2, 1000);
    s.room.co2.sensor = SensorPlan{};
    s.room.co2.sensor->stale_after = minutes(1);
  });
  rig.start("fruiting");
  rig.co2(890);
  EXPECT_TRUE(rig.runs(fan)) << "by 420 ppm outdoors";
  rig.co2(700);
  EXPECT_FALSE(rig.runs(fan));
  rig.step(event::RoomReading{event::RoomQuantity::co2, 600, false});
  rig.co2(890);
  EXPECT_FALSE(rig.runs(fan)) << "[600, 1000] starts above 900";
  rig.wait(minutes(1));
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(milliseconds(1));
  EXPECT_TRUE(rig.runs(fan)) << "the room's sensor went stale: 420 again, by itself";
}

TEST(Band, NotKeptRests) {
  Rig rig([](Plans& s) { s.keep("fruiting", kHumidity, 85, 90); });
  rig.start("fruiting");
  rig.air(5);
  rig.humidity(80);
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_NE(rig.why(mat).find("asks nothing of it"), std::string::npos) << rig.why(mat);
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Band, TheMedianOfSeveralSensorsDecides) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    for (const char* id : {"air-2", "air-3"}) {
      s.chamber.sensors.push_back(s.chamber.sensors[air_sensor]);
      s.chamber.sensors.back().id = id;
    }
  });
  rig.start("fruiting");
  const auto reads = [&](std::size_t sensor, double v) {
    rig.step(event::Reading{sensor, kHumidity, v, false, false, Duration{0}});
  };
  reads(air_sensor, 88);
  reads(2, 87.0);
  reads(3, 40);  // one that went mad
  EXPECT_FALSE(rig.runs(mister));
  reads(2, 86.0);
  EXPECT_TRUE(rig.runs(mister)) << "median 86";
  reads(2, 88);
  EXPECT_FALSE(rig.runs(mister));
  rig.step(event::SensorGone{2});
  EXPECT_TRUE(rig.runs(mister)) << "of two, the mean: 64";
}

}  // namespace
}  // namespace tubwarden
