// What drives nothing: stale, retained, gone, from before an outage, unconfirmed, unusable.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;

Rig::Change mists_with(Level safe) {
  return [=](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).output.safe = safe;
  };
}

void expect_safe(const Rig& rig, Level safe) {
  EXPECT_EQ(rig.level(mister), safe) << rig.why(mister);
  EXPECT_TRUE(rig.last_command(mister).safe);
  EXPECT_EQ(rig.last_command(mister).run, Duration{0});
}

class Blind : public testing::TestWithParam<Level> {};
INSTANTIATE_TEST_SUITE_P(SafeLevels, Blind, testing::Values(kRest, 300U, kRun));

TEST_P(Blind, BeforeAnyReading) {
  Rig rig(mists_with(GetParam()));
  rig.start("fruiting");
  expect_safe(rig, GetParam());
  EXPECT_NE(rig.why(mister).find("safe until a live humidity reading comes"), std::string::npos);
}

TEST_P(Blind, AStaleReading) {
  Rig rig(mists_with(GetParam()));
  // 83 calls for a run, 88 for a rest; neither is believed when stale.
  for (const double value : {83.0, 88.0}) {
    rig.start("fruiting").humidity(value);
    EXPECT_EQ(rig.level(mister), value < 85 ? kRun : kRest);
    rig.wait(minutes(2));
    EXPECT_EQ(rig.level(mister), value < 85 ? kRun : kRest) << "two minutes are not too old";
    rig.wait(Duration{1});
    expect_safe(rig, GetParam());
  }
}

TEST_P(Blind, AnOldReadingByItsOwnStamp) {
  Rig rig(mists_with(GetParam()));
  rig.start("fruiting");
  rig.step(event::Reading{air_sensor, kHumidity, 83, false, false, minutes(2) + Duration{1}});
  expect_safe(rig, GetParam());
  rig.step(event::Reading{air_sensor, kHumidity, 83, false, false, minutes(1)});
  EXPECT_EQ(rig.level(mister), kRun);
  rig.wait(minutes(1) + Duration{1});
  expect_safe(rig, GetParam());
}

TEST_P(Blind, ARetainedReading) {
  Rig rig(mists_with(GetParam()));
  rig.start("fruiting");
  rig.step(event::Reading{air_sensor, kHumidity, 83, true, false, Duration{0}});
  expect_safe(rig, GetParam());
  ASSERT_TRUE(rig.view(kHumidity).value);
  EXPECT_EQ(*rig.view(kHumidity).value, 83) << "shown, and marked";
  EXPECT_FALSE(rig.view(kHumidity).usable);
  rig.humidity(88);
  EXPECT_EQ(rig.level(mister), kRest);
  EXPECT_FALSE(rig.last_command(mister).safe && GetParam() != kRest);
  rig.step(event::Reading{air_sensor, kHumidity, 83, true, false, Duration{0}});
  EXPECT_EQ(*rig.view(kHumidity).value, 88) << "a live one is worth more";
  EXPECT_EQ(rig.level(mister), kRest);
}

TEST_P(Blind, AReadingFromBeforeTheOutage) {
  Rig rig(mists_with(GetParam()));
  rig.start("fruiting").humidity(83);
  ASSERT_EQ(rig.level(mister), kRun);
  rig.wait(seconds(1)).step(event::BrokerDown{});
  expect_safe(rig, GetParam());
  rig.wait(seconds(10)).step(event::BrokerUp{});
  expect_safe(rig, GetParam());
  rig.step(event::Reading{air_sensor, kHumidity, 83, true, false, Duration{0}});
  expect_safe(rig, GetParam());
  rig.humidity(83);
  EXPECT_EQ(rig.level(mister), kRun);
  // Standing at run already, there is nothing new to command.
  EXPECT_EQ(rig.last_command(mister).safe, GetParam() == kRun);
}

TEST_P(Blind, ASensorThatSaidItIsGone) {
  Rig rig(mists_with(GetParam()));
  rig.start("fruiting").humidity(83);
  rig.step(event::SensorGone{air_sensor});
  expect_safe(rig, GetParam());
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.sensor_air_stale"});
  rig.humidity(83);
  EXPECT_EQ(rig.level(mister), kRun);
}

TEST_P(Blind, AnUnconfirmedPhase) {
  Rig rig(mists_with(GetParam()));
  rig.start("").humidity(83);
  expect_safe(rig, GetParam());
  EXPECT_NE(rig.why(mister).find("until somebody confirms the phase"), std::string::npos);
  rig.in_phase("fruiting");
  EXPECT_EQ(rig.level(mister), kRun);
}

TEST_P(Blind, APhaseTheProfileDoesNotKnow) {
  Rig rig(mists_with(GetParam()));
  rig.start("harvest").humidity(83);
  expect_safe(rig, GetParam());
  EXPECT_NE(rig.why(mister).find("does not know the recorded phase"), std::string::npos)
      << rig.why(mister);
}

TEST(Empty, EverythingRests) {
  Rig rig([](Plans& s) {
    s.keep("empty", kHumidity, 85, 90);  // whatever a profile writes there
    for (ActuatorPlan& a : s.chamber.actuators) a.output.safe = kRun;
    s.phase("empty").light = LightHours{0, 24 * 60};
    s.phase("empty").fresh_air = FreshAirFloor{100, minutes(15)};
  });
  rig.start("empty").humidity(50);
  rig.step(event::LocalTime{3600});
  rig.wait(hours(1));
  for (const Part part : {stir, fan, mister, mat, cooler, lamp, dryer}) {
    EXPECT_EQ(rig.level(part), kRest) << rig.why(part);
    EXPECT_FALSE(rig.last_command(part).safe);
  }
  EXPECT_TRUE(rig.alerts().empty()) << "and nobody is told of silent sensors";
}

// --- outputs ------------------------------------------------------------------------------------

TEST(Unusable, NothingIsCommandedUntilTheDriverObeys) {
  Rig rig(mists_with(kRest));
  rig.in_phase("fruiting").humidity(80);
  EXPECT_TRUE(rig.heard.empty());
  EXPECT_NE(rig.why(mister).find("its driver is not ready"), std::string::npos) << rig.why(mister);
  rig.step(event::OutputUsable{mister, true, ""});
  EXPECT_EQ(rig.level(mister), kRun);
}

TEST(Unusable, BackItWaitsForAFreshCommandAndItsRest) {
  Rig rig([](Plans& s) {
    mists_with(kRest)(s);
    s.part(mister).limits.shortest_rest = seconds(20);
    s.never_stale();
  });
  rig.start("fruiting");
  rig.wait(seconds(30)).humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(seconds(5));
  const auto before = rig.commands(mister);
  rig.step(event::OutputUsable{mister, false, "The host of mister ended. "});
  EXPECT_EQ(rig.commands(mister), before);
  EXPECT_NE(rig.why(mister).find("The host of mister ended."), std::string::npos);
  EXPECT_EQ(rig.why(mister).find(". ."), std::string::npos) << rig.why(mister);
  rig.wait(seconds(2)).humidity(79);
  EXPECT_EQ(rig.commands(mister), before);
  rig.step(event::OutputUsable{mister, true, ""});
  EXPECT_EQ(rig.commands(mister), before + 1) << "a fresh command";
  EXPECT_EQ(rig.last_command(mister).level, kRest) << "of the 20 s of rest 2 are over";
  rig.wait(seconds(17));
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(seconds(1));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Unusable, TheSameWordTwiceChangesNothing) {
  Rig rig(mists_with(kRest));
  rig.start("fruiting").humidity(80);
  const auto before = rig.commands(mister);
  rig.step(event::OutputUsable{mister, true, "not confirmed within 5s"});
  EXPECT_EQ(rig.commands(mister), before);
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Unusable, AHeaterStuckAtASafeRunKeepsCoolingAway) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", Quantity::air_temperature, 15, 19);
    s.part(mat).output.safe = kRun;
  });
  rig.start("fruiting").air(17);
  rig.step(event::OutputUsable{mat, false, "its host ended"});
  rig.air(25);
  EXPECT_FALSE(rig.runs(cooler)) << rig.why(cooler);
}

TEST(Start, CountsAsAStopJustNow) {
  Rig rig([](Plans& s) {
    mists_with(kRest)(s);
    s.part(mister).limits.shortest_rest = seconds(20);
  });
  rig.start("fruiting", hours(100)).humidity(70);
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(seconds(20));
  EXPECT_TRUE(rig.runs(mister));
}

}  // namespace
}  // namespace tubwarden
