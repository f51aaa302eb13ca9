// Light hours and stirring.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr int kHour = 3600;

Rig::Change lit(int from_minute, int to_minute) {
  return [=](Plans& s) { s.phase("fruiting").light = LightHours{from_minute, to_minute}; };
}

TEST(Light, KeepsItsHours) {
  struct Case {
    int from, to;  // minutes
    int second;
    bool on;
  };
  const Case cases[] = {
      {480, 1200, 8 * kHour - 1, false},
      {480, 1200, 8 * kHour, true},
      {480, 1200, 20 * kHour - 1, true},
      {480, 1200, 20 * kHour, false},
      {1320, 360, 22 * kHour - 1, false},
      {1320, 360, 22 * kHour, true},
      {1320, 360, 0, true},
      {1320, 360, 6 * kHour - 1, true},
      {1320, 360, 6 * kHour, false},
      {0, 1440, 12 * kHour, true},
  };
  for (const Case& c : cases) {
    Rig rig(lit(c.from, c.to));
    rig.start("fruiting");
    rig.step(event::LocalTime{c.second});
    EXPECT_EQ(rig.runs(lamp), c.on) << c.from << ".." << c.to << " at " << c.second;
  }
}

TEST(Light, SwitchesByItselfToTheInstantOverMidnight) {
  Rig rig(lit(22 * 60, 6 * 60));
  rig.start("fruiting");
  rig.step(event::LocalTime{21 * kHour + 1800});
  rig.wait(milliseconds(300));  // a turn that is not on the second
  EXPECT_NE(rig.why(lamp).find("outside its hours for another 29m"), std::string::npos)
      << rig.why(lamp);
  rig.wait(minutes(30) - milliseconds(300) - Duration{1});
  EXPECT_FALSE(rig.runs(lamp));
  rig.wait(Duration{1});
  EXPECT_TRUE(rig.runs(lamp));
  EXPECT_NE(rig.why(lamp).find("within its hours for another 8h"), std::string::npos)
      << rig.why(lamp);
  rig.wait(hours(8) - Duration{1});
  EXPECT_TRUE(rig.runs(lamp));
  rig.wait(Duration{1});
  EXPECT_FALSE(rig.runs(lamp));
  rig.wait(hours(16));
  EXPECT_TRUE(rig.runs(lamp)) << "the next day, too";
}

TEST(Light, IsSafeWhileTheClockIsUnset) {
  for (const Level safe : {kRest, kRun}) {
    Rig rig([&](Plans& s) {
      lit(0, 1440)(s);
      s.part(lamp).output.safe = safe;
    });
    rig.start("fruiting");
    EXPECT_EQ(rig.level(lamp), safe);
    EXPECT_NE(rig.why(lamp).find("the clock is not set"), std::string::npos) << rig.why(lamp);
    rig.step(event::LocalTime{kHour});
    EXPECT_TRUE(rig.runs(lamp));
    rig.step(event::LocalTime{std::nullopt});
    EXPECT_EQ(rig.level(lamp), safe);
  }
}

TEST(Light, FollowsAClockThatIsSetAnew) {
  Rig rig(lit(480, 1200));
  rig.start("fruiting");
  rig.step(event::LocalTime{7 * kHour});
  EXPECT_FALSE(rig.runs(lamp));
  rig.step(event::LocalTime{9 * kHour});
  EXPECT_TRUE(rig.runs(lamp));
}

TEST(Light, NoHoursNoLight) {
  Rig rig;
  rig.start("fruiting");
  rig.step(event::LocalTime{12 * kHour});
  EXPECT_FALSE(rig.runs(lamp));
}

TEST(Stir, RunsWhileTheAirIsConditioned) {
  struct Case {
    Part part;
    double humidity, air;
  };
  const Case cases[] = {{mister, 80, 17}, {dryer, 95, 17}, {mat, 87.5, 10}, {cooler, 87.5, 25}};
  for (const Case& c : cases) {
    Rig rig([](Plans& s) {
      s.keep("fruiting", Quantity::humidity, 85, 90);
      s.keep("fruiting", Quantity::air_temperature, 15, 19);
    });
    rig.start("fruiting").humidity(87.5);
    rig.air(17);
    EXPECT_FALSE(rig.runs(stir));
    EXPECT_NE(rig.why(stir).find("only while"), std::string::npos) << rig.why(stir);
    rig.humidity(c.humidity);
    rig.air(c.air);
    ASSERT_TRUE(rig.runs(c.part));
    EXPECT_TRUE(rig.runs(stir)) << "in the very turn";
    rig.humidity(87.5);
    rig.air(17);
    EXPECT_FALSE(rig.runs(stir));
  }
}

TEST(Stir, KeepsItsShortestRun) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", Quantity::humidity, 85, 90);
    s.part(stir).limits.shortest_run = seconds(10);
  });
  rig.start("fruiting").humidity(80);
  rig.wait(seconds(2)).humidity(88);
  EXPECT_TRUE(rig.runs(stir));
  rig.wait(seconds(8));
  EXPECT_FALSE(rig.runs(stir));
}

TEST(Stir, TheFanAloneStirsEnough) {
  Rig rig([](Plans& s) { s.keep_below("fruiting", Quantity::co2, 1000); });
  rig.start("fruiting").co2(3000);
  ASSERT_TRUE(rig.runs(fan));
  EXPECT_FALSE(rig.runs(stir));
}

}  // namespace
}  // namespace tubwarden
