// Limits have the last word: shortest and longest run, shortest rest, starts an hour.
#include "core/climate/run_gate.hpp"
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;

Rig::Change mists(RunLimits limits) {
  return [=](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.never_stale();
    s.part(mister).limits = limits;
  };
}

TEST(Limits, TheHostTimesTheLongestRun) {
  Rig rig(mists({seconds(1), seconds(20), seconds(5), 0}));
  rig.start("fruiting");
  rig.wait(seconds(20)).humidity(80);
  EXPECT_EQ(rig.last_command(mister).level, kRun);
  EXPECT_EQ(rig.last_command(mister).run, seconds(5));
  EXPECT_EQ(rig.last.next_wake, rig.now + seconds(5));
  rig.wait(seconds(5));
  EXPECT_EQ(rig.last_command(mister).level, kRest);
  EXPECT_NE(rig.why(mister).find("it has run its longest and rests for another 20s"),
            std::string::npos)
      << rig.why(mister);
  rig.wait(seconds(19));
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(seconds(1));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Limits, WithoutALongestRunItHoldsWhileLeased) {
  Rig rig(mists({}));
  rig.start("fruiting").humidity(80);
  EXPECT_EQ(rig.last_command(mister).run, Duration{0});
}

TEST(Limits, ALongestRunIsALimitEvenWithoutAShortestRest) {
  Rig rig(mists({Duration{0}, Duration{0}, seconds(5), 0}));
  rig.start("fruiting").humidity(80);
  rig.wait(seconds(5));
  EXPECT_FALSE(rig.runs(mister));
  rig.humidity(80);
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(RunGate::kRestAfterLongest);
  EXPECT_TRUE(rig.runs(mister)) << "woken by itself";
}

TEST(Limits, StartsPerHour) {
  Rig rig(mists({Duration{0}, Duration{0}, Duration{0}, 3}));
  rig.start("fruiting");
  const Instant first = rig.now;
  for (int i = 0; i < 3; ++i) {
    rig.humidity(80);
    ASSERT_TRUE(rig.runs(mister)) << i;
    rig.wait(minutes(1)).humidity(88);
    rig.wait(minutes(1));
  }
  rig.humidity(80);
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("its starts of this hour are used up for another 54m"),
            std::string::npos)
      << rig.why(mister);
  EXPECT_EQ(rig.chamber().actuators(rig.now)[mister].starts_last_hour, 3);
  rig.wait(first + hours(1) - rig.now - Duration{1});
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(Duration{1});
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Limits, TheShortestRunGoesOnToItsEnd) {
  Rig rig(mists({seconds(10), Duration{0}, Duration{0}, 0}));
  rig.start("fruiting").humidity(80);
  rig.wait(seconds(4)).humidity(89);
  EXPECT_TRUE(rig.runs(mister));
  EXPECT_EQ(rig.last.next_wake, rig.now + seconds(6));
  rig.wait(seconds(6));
  EXPECT_FALSE(rig.runs(mister));
}

TEST(Limits, ARunAtASafeLevelIsTimedOnceItIsADecision) {
  Rig rig([](Plans& s) {
    mists({Duration{0}, seconds(20), seconds(60), 0})(s);
    s.chamber.sensors[air_sensor].stale_after = minutes(2);
    s.part(mister).output.safe = kRun;
  });
  rig.start("fruiting");
  ASSERT_TRUE(rig.runs(mister));
  EXPECT_EQ(rig.last_command(mister).run, Duration{0}) << "the safe level holds";
  rig.wait(seconds(10)).humidity(80);
  EXPECT_TRUE(rig.runs(mister));
  EXPECT_EQ(rig.last_command(mister).run, seconds(50)) << "it runs since 10 s";
  EXPECT_FALSE(rig.last_command(mister).safe);
}

TEST(Limits, AHostTimedRunDoesNotEndASafeOne) {
  Rig rig([](Plans& s) {
    mists({Duration{0}, Duration{0}, minutes(3), 0})(s);
    s.chamber.sensors[air_sensor].stale_after = minutes(2);
    s.part(mister).output.safe = kRun;
  });
  rig.start("fruiting").humidity(88);
  rig.wait(seconds(1)).humidity(80);
  ASSERT_EQ(rig.last_command(mister).run, minutes(3));
  rig.wait(minutes(2) + Duration{1});  // blind: safe is run, and has no end
  EXPECT_EQ(rig.last_command(mister).run, Duration{0});
  EXPECT_TRUE(rig.last_command(mister).safe);
  rig.wait(minutes(10));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Limits, AShortestRunHeldFromASafeLevelStaysAtThatLevel) {
  Rig rig([](Plans& s) {
    mists({seconds(30), Duration{0}, Duration{0}, 0})(s);
    s.part(mister).output.safe = 300;
  });
  rig.start("fruiting");
  ASSERT_EQ(rig.level(mister), 300U);
  rig.wait(seconds(1)).humidity(88);
  EXPECT_EQ(rig.level(mister), 300U) << "nobody wishes it to run in full";
  rig.wait(seconds(29));
  EXPECT_EQ(rig.level(mister), kRest);
}

TEST(Limits, ACompressorKeepsItsShortestRunIntoEmpty) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", Quantity::air_temperature, 15, 19);
    s.keep("fruiting", kHumidity, 85, 90);
    s.never_stale();
    s.part(cooler).limits.shortest_run = minutes(3);
    s.part(mister).limits.shortest_run = minutes(3);
  });
  rig.start("fruiting").air(19);
  rig.humidity(80);
  ASSERT_TRUE(rig.runs(cooler));
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(minutes(1));
  rig.in_phase("empty");
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(minutes(2));
  EXPECT_FALSE(rig.runs(cooler));
}

TEST(Limits, NewLimitsHoldForTheRunningOutput) {
  Rig rig(mists({}));
  rig.start("fruiting").humidity(80);
  rig.wait(seconds(10));
  rig.adopt([](Plans& s) { s.part(mister).limits.longest_run = seconds(30); });
  EXPECT_TRUE(rig.runs(mister));
  EXPECT_EQ(rig.last_command(mister).run, seconds(20));
  rig.wait(seconds(20));
  EXPECT_FALSE(rig.runs(mister));
}

}  // namespace
}  // namespace tubwarden
