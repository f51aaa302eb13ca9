// The fresh-air floor: how much it is owed, when it calls, what counts, what stands above it.
#include <cmath>

#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kCo2 = Quantity::co2;

bool says(const std::string& sentence, const std::string& word) {
  return sentence.find(word) != std::string::npos;
}

/// 1 change of 40 L each 15 min by a fan of 2 m3/h: 0.04 / 2 h = 72 s.
Rig::Change floor_of(double changes, Duration every) {
  return [=](Plans& s) {
    s.phase("fruiting").fresh_air = FreshAirFloor{changes, every};
    s.never_stale();
  };
}

TEST(Floor, RunsLateInItsWindow) {
  Rig rig(floor_of(1, minutes(15)));
  rig.start("fruiting");
  EXPECT_EQ(rig.last.next_wake, rig.now + minutes(5)) << "the longest sleep";
  rig.wait(minutes(15) - seconds(72) - Duration{1});
  EXPECT_FALSE(rig.runs(fan));
  EXPECT_TRUE(says(rig.why(fan), "its floor starts it in")) << rig.why(fan);
  rig.wait(Duration{1});
  EXPECT_TRUE(rig.runs(fan));
  EXPECT_TRUE(says(rig.why(fan), "owed 1m 12s of fan")) << rig.why(fan);
  rig.wait(seconds(72) - Duration{1});
  EXPECT_TRUE(rig.runs(fan));
  rig.wait(Duration{1});
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Floor, RunIsChangesTimesVolumeByRate) {
  struct Case {
    double changes, litres, rate;
    Duration run;
  };
  const Case cases[] = {{1, 40, 2, seconds(72)},
                        {2, 40, 2, seconds(144)},
                        {1, 100, 2, seconds(180)},
                        {1, 40, 4, seconds(36)},
                        {0.5, 40, 2, seconds(36)}};
  for (const Case& c : cases) {
    Rig rig([&](Plans& s) {
      floor_of(c.changes, minutes(15))(s);
      s.chamber.net_volume.litres = 999;
      s.chamber.net_volume.litres_in_phase["fruiting"] = c.litres;
      s.part(fan).rate = c.rate;
    });
    rig.start("fruiting");
    Duration ran{0};
    for (int i = 0; i < 15 * 60 * 4; ++i) {
      const bool before = rig.runs(fan);
      rig.wait(milliseconds(250));
      if (before) ran += milliseconds(250);
    }
    EXPECT_LE(std::abs(seconds_of(ran - c.run)), 0.25) << c.changes << " " << c.litres;
  }
}

TEST(Floor, AirMovedForAnyMasterCounts) {
  Rig rig([](Plans& s) {
    floor_of(1, minutes(15))(s);
    s.keep_below("fruiting", kCo2, 1000);
  });
  rig.start("fruiting").co2(600);
  rig.wait(minutes(5)).co2(2000);
  rig.wait(seconds(40)).co2(600);
  ASSERT_FALSE(rig.runs(fan));
  // 32 s are left.
  rig.wait(minutes(15) - minutes(5) - seconds(40) - seconds(32) - Duration{1});
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(Duration{1});
  EXPECT_TRUE(rig.runs(fan));
  rig.wait(seconds(32));
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Floor, AllOfItMovedMeansNoRun) {
  Rig rig([](Plans& s) {
    floor_of(1, minutes(15))(s);
    s.keep_below("fruiting", kCo2, 1000);
  });
  rig.start("fruiting").co2(2000);
  rig.wait(seconds(72)).co2(600);
  const auto commands = rig.commands(fan);
  rig.wait(minutes(13));
  EXPECT_EQ(rig.commands(fan), commands);
  EXPECT_TRUE(says(rig.why(fan), "its floor is met for another 48s")) << rig.why(fan);
  rig.wait(minutes(15));
  EXPECT_GT(rig.commands(fan), commands) << "the next window owes again";
}

TEST(Floor, AFanAtPartOfItsRateMovesItsPart) {
  Rig rig([](Plans& s) {
    floor_of(1, minutes(15))(s);
    s.keep_below("fruiting", kCo2, 1000);
    s.chamber.sensors[air_sensor].stale_after = minutes(2);
    s.part(fan).output.safe = 50;  // 5 %
  });
  rig.start("fruiting");  // blind from the start: 5 % for 15 min are 45 s of the 72
  rig.wait(minutes(15) - seconds(40));
  EXPECT_EQ(rig.level(fan), 50U);
  rig.wait(seconds(40));
  Duration full{0};
  for (std::size_t i = 0; i < rig.heard.size(); ++i) {
    if (rig.heard[i].command.actuator == fan && rig.heard[i].command.level == kRun) {
      full = rig.now - rig.heard[i].at;
    }
  }
  // s seconds at full and 900 - s at 5 %: s + 0.05 (900 - s) = 72 -> s = 28.42.
  EXPECT_NEAR(seconds_of(full), 27.0 / 0.95, 0.01);
}

TEST(Floor, AStaleSensorDoesNotStopIt) {
  Rig rig([](Plans& s) {
    floor_of(1, minutes(15))(s);
    s.keep_below("fruiting", kCo2, 1000);
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.chamber.sensors[air_sensor].stale_after = minutes(2);
  });
  rig.start("fruiting").co2(600);
  rig.wait(minutes(14));
  EXPECT_TRUE(rig.runs(fan)) << rig.why(fan);
  rig.wait(minutes(1));
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Floor, AFanThatDoesNotObeyMovesNothing) {
  Rig rig(floor_of(1, minutes(15)));
  rig.start("fruiting");
  rig.wait(minutes(14));
  ASSERT_TRUE(rig.runs(fan));
  rig.step(event::OutputUsable{fan, false, "its host ended"});
  rig.wait(seconds(20));
  rig.step(event::OutputUsable{fan, true, ""});
  EXPECT_TRUE(rig.runs(fan));
  EXPECT_TRUE(says(rig.why(fan), "owed 1m")) << rig.why(fan);
}

TEST(Floor, WindowsCountFromThePhaseSoThatARestartDoesNotPutItOff) {
  Rig rig(floor_of(1, minutes(15)));
  rig.start("fruiting", hours(7) + minutes(10));
  rig.wait(minutes(5) - seconds(72));
  EXPECT_TRUE(rig.runs(fan)) << "the seventh hour's window ends in 72 s";
}

TEST(Floor, LimitsStandAboveIt) {
  Rig rig([](Plans& s) {
    floor_of(1, minutes(15))(s);
    s.part(fan).limits.longest_run = seconds(30);
    s.part(fan).limits.shortest_rest = seconds(20);
  });
  rig.start("fruiting");
  rig.wait(minutes(15) - seconds(72));
  ASSERT_TRUE(rig.runs(fan));
  rig.wait(seconds(30));
  EXPECT_FALSE(rig.runs(fan));
  EXPECT_TRUE(says(rig.why(fan), "it has run its longest")) << rig.why(fan);
  rig.wait(seconds(20));
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Floor, NeedsARateAndAVolume) {
  for (const bool rate : {true, false}) {
    Rig rig([&](Plans& s) {
      floor_of(1, minutes(15))(s);
      if (rate) {
        s.chamber.net_volume.litres = 0;
      } else {
        s.part(fan).rate.reset();
      }
    });
    rig.start("fruiting").wait(hours(1));
    EXPECT_FALSE(rig.runs(fan));
    EXPECT_EQ(rig.commands(fan), 1U);
  }
}

}  // namespace
}  // namespace tubwarden
