// The grower's hand: attend, keep-at and trial; each ends by itself, and what stands above which.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kSubstrate = Quantity::substrate_temperature;

Hand attend(const Rig& rig, Duration lasts) {
  return {HandKind::attend, "", kRest, rig.now + lasts, "tub-1"};
}
Hand keep(const Rig& rig, const char* id, Level level, Duration lasts) {
  return {HandKind::keep_at, id, level, rig.now + lasts, "tub-1"};
}
Hand trial(const Rig& rig, const char* id, Duration lasts) {
  return {HandKind::trial, id, kRun, rig.now + lasts, "tub-1"};
}

Rig::Change humid(const Rig::Change& more = {}) {
  return [=](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.warn("fruiting", kHumidity, Warn{78.0, 95.0, minutes(10)});
    for (auto& q : s.phase("fruiting").quantities) {
      if (q) s.phase("fruiting").settle_other = Duration{0};
    }
    s.never_stale();
    if (more) more(s);
  };
}

TEST(Attend, AllOutputsRestAndComeBackByThemselves) {
  Rig rig(humid());
  rig.start("fruiting").humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.step(event::HandOn{attend(rig, minutes(20))});
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("hands are in the tub for another 20m"), std::string::npos)
      << rig.why(mister);
  rig.wait(minutes(10)).humidity(60);
  EXPECT_FALSE(rig.runs(mister)) << "the lid is open; nobody mists the room";
  rig.wait(minutes(10));
  ASSERT_EQ(rig.last.hands_over.size(), 1U);
  EXPECT_EQ(rig.last.hands_over[0].kind, HandKind::attend);
  EXPECT_TRUE(rig.chamber().hands().empty());
  EXPECT_TRUE(rig.runs(mister)) << "it comes back by itself";
}

TEST(Attend, ARunEndsInsideItsShortestRun) {
  Rig rig(humid([](Plans& s) { s.part(mister).limits.shortest_run = minutes(5); }));
  rig.start("fruiting").humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.step(event::HandOn{attend(rig, minutes(1))});
  EXPECT_FALSE(rig.runs(mister));
}

TEST(Attend, NothingNewIsRaisedAndADelayBeginsAnewAfterwards) {
  Rig rig(humid());
  rig.start("fruiting").humidity(70);
  rig.wait(minutes(9));
  rig.step(event::HandOn{attend(rig, minutes(20))});
  rig.wait(minutes(20)).humidity(70);
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(minutes(9));
  EXPECT_TRUE(rig.alerts().empty()) << "the delay counts from the end of attend";
  rig.wait(minutes(1));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.humidity_low"});
}

TEST(Attend, WhatStandsKeepsStandingAndReturnsAfterwards) {
  Rig rig(humid());
  rig.start("fruiting").humidity(70);
  rig.wait(minutes(10));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.humidity_low"});
  rig.step(event::HandOn{attend(rig, minutes(5))});
  rig.humidity(88);
  rig.wait(minutes(4));
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(minutes(3));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.humidity_low"});
}

TEST(Attend, ASilentSensorIsNotMissedMeanwhile) {
  Rig rig([](Plans& s) { s.keep("fruiting", kHumidity, 85, 90); });
  rig.start("fruiting").humidity(88);
  rig.substrate(17);
  rig.alerts();
  rig.step(event::HandOn{attend(rig, minutes(20))});
  rig.wait(minutes(19));
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(minutes(2));
  EXPECT_EQ(rig.alerts().size(), 2U) << "afterwards both sensors are missed";
}

TEST(Attend, TheCeilingAlertsAtOnceAndHandsStillStandAbove) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kSubstrate, 15, 18);
    s.tubs[0].substrate_ceiling_c = 26.5;
    s.room_is(15, 50);
    s.never_stale();
  });
  rig.start("fruiting");
  rig.step(event::HandOn{attend(rig, minutes(20))});
  rig.substrate(27);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.substrate_ceiling"});
  EXPECT_FALSE(rig.runs(cooler)) << "not while hands are in the tub";
  EXPECT_FALSE(rig.runs(fan));
  rig.wait(minutes(20));
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Attend, ANewOneTakesThePlaceOfTheOld) {
  Rig rig(humid());
  rig.start("fruiting").humidity(80);
  rig.step(event::HandOn{attend(rig, minutes(20))});
  rig.step(event::HandOn{attend(rig, minutes(2))});
  EXPECT_EQ(rig.chamber().hands().size(), 1U);
  rig.wait(minutes(2));
  EXPECT_TRUE(rig.runs(mister));
  rig.step(event::HandOn{attend(rig, minutes(20))});
  rig.step(event::HandOff{HandKind::attend, ""});
  EXPECT_TRUE(rig.runs(mister));
}

TEST(KeepAt, RestHoldsAgainstThePhaseUntilItsEnd) {
  Rig rig(humid());
  rig.start("fruiting").humidity(80);
  rig.step(event::HandOn{keep(rig, "mister", kRest, minutes(30))});
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("kept at rest by hand for another 30m"), std::string::npos)
      << rig.why(mister);
  rig.wait(minutes(29)).humidity(80);
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(minutes(1));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(KeepAt, RunIsStillWithinTheLimits) {
  Rig rig(humid([](Plans& s) {
    s.part(mister).limits = {seconds(1), seconds(20), seconds(5), 0};
  }));
  rig.start("fruiting").humidity(88);
  rig.wait(seconds(20));
  rig.step(event::HandOn{keep(rig, "mister", kRun, minutes(30))});
  EXPECT_EQ(rig.last_command(mister).run, seconds(5));
  rig.wait(seconds(6));
  EXPECT_FALSE(rig.runs(mister));
  rig.wait(seconds(19));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(KeepAt, TheCeilingStandsAbove) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kSubstrate, 15, 18);
    s.tubs[0].substrate_ceiling_c = 26.5;
    s.room_is(15, 50);
    s.never_stale();
  });
  rig.start("fruiting");
  rig.substrate(17);
  rig.step(event::HandOn{keep(rig, "mat", kRun, hours(1))});
  rig.step(event::HandOn{keep(rig, "cooler", kRest, hours(1))});
  rig.step(event::HandOn{keep(rig, "fan", kRest, hours(1))});
  EXPECT_TRUE(rig.runs(mat));
  rig.substrate(27);
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_TRUE(rig.runs(cooler));
  EXPECT_TRUE(rig.runs(fan));
  rig.substrate(25);
  EXPECT_TRUE(rig.runs(mat)) << "the hand goes on when the ceiling lets go";
  EXPECT_FALSE(rig.runs(fan));
}

TEST(KeepAt, HeatingAndCoolingNeverRunTogether) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", Quantity::air_temperature, 15, 18);
    s.never_stale();
  });
  rig.start("fruiting");
  rig.air(20);
  ASSERT_TRUE(rig.runs(cooler));
  rig.step(event::HandOn{keep(rig, "mat", kRun, hours(1))});
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_NE(rig.why(mat).find("a hand would run it, but cooling still runs"), std::string::npos)
      << rig.why(mat);
}

TEST(KeepAt, AHeaterRunsOnlyWhileSomethingSaysHowWarmItIs) {
  Rig rig([](Plans& s) { s.keep("fruiting", Quantity::air_temperature, 15, 18); });
  rig.start("fruiting");
  rig.air(16.5);
  rig.step(event::HandOn{keep(rig, "mat", kRun, hours(1))});
  EXPECT_TRUE(rig.runs(mat));
  rig.wait(minutes(3));
  EXPECT_FALSE(rig.runs(mat)) << rig.why(mat);
  rig.air(16.5);
  EXPECT_TRUE(rig.runs(mat));
}

TEST(Trial, RunsForItsTimeByTheDriversOwnClock) {
  Rig rig(humid());
  rig.start("fruiting").humidity(88);
  rig.step(event::HandOn{trial(rig, "mister", seconds(3))});
  EXPECT_EQ(rig.last_command(mister).level, kRun);
  EXPECT_EQ(rig.last_command(mister).run, seconds(3));
  EXPECT_NE(rig.why(mister).find("tried by hand for another 3s"), std::string::npos);
  rig.wait(seconds(3));
  ASSERT_EQ(rig.last.hands_over.size(), 1U);
  EXPECT_EQ(rig.last_command(mister).level, kRest);
}

TEST(Trial, ACallAtItsEndIsARunOfItsOwnWithinTheLimits) {
  Rig rig(humid([](Plans& s) { s.part(mister).limits.shortest_rest = seconds(20); }));
  rig.start("fruiting").humidity(88);
  rig.wait(seconds(20));
  rig.step(event::HandOn{trial(rig, "mister", seconds(3))});
  ASSERT_TRUE(rig.runs(mister));
  rig.humidity(80);
  rig.wait(seconds(3) + milliseconds(1));
  EXPECT_FALSE(rig.runs(mister)) << "the driver's clock ended the trial, and that is a stop";
  rig.wait(seconds(19));
  EXPECT_FALSE(rig.runs(mister)) << "its shortest rest";
  rig.wait(seconds(1));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Trial, IsWithinTheLimits) {
  Rig rig(humid([](Plans& s) { s.part(mister).limits.shortest_rest = minutes(1); }));
  rig.start("fruiting").humidity(88);
  rig.step(event::HandOn{trial(rig, "mister", seconds(3))});
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("its shortest rest holds it"), std::string::npos);
}

TEST(Trial, WorksBeforeAnybodyHasNamedThePhase) {
  Rig rig(humid());
  for (std::size_t i = 0; i < 7; ++i) rig.step(event::OutputUsable{i, true, ""});
  rig.step(event::HandOn{trial(rig, "fan", seconds(10))});
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Hands, EndWhenTheirOutputLeavesThePlan) {
  Rig rig(humid());
  rig.start("fruiting").humidity(88);
  rig.step(event::HandOn{keep(rig, "dryer", kRun, hours(1))});
  const Effects effects = rig.adopt([](Plans& s) { s.chamber.actuators.pop_back(); });
  ASSERT_EQ(effects.hands_over.size(), 1U);
  EXPECT_EQ(effects.hands_over[0].actuator, "dryer");
}

TEST(Decisions, AreToldWhenLevelOrReasonChanges) {
  Rig rig(humid());
  rig.start("fruiting").humidity(88);
  const Effects starts = rig.humidity(80);
  ASSERT_EQ(starts.decisions.size(), 2U);  // the stir goes with it
  EXPECT_EQ(starts.decisions[0].actuator, mister);
  EXPECT_EQ(starts.decisions[0].level, kRun);
  EXPECT_FALSE(starts.decisions[0].ended);
  EXPECT_EQ(starts.decisions[0].why.find("started just now: humidity is 80 %"), 0U)
      << starts.decisions[0].why;
  EXPECT_TRUE(rig.humidity(81).decisions.empty()) << "the same reason with another value";
  const Instant began = rig.now;
  rig.now += seconds(4);
  const Effects ends = rig.humidity(88);
  ASSERT_FALSE(ends.decisions.empty());
  ASSERT_TRUE(ends.decisions[0].ended);
  EXPECT_EQ(ends.decisions[0].ended->level, kRun);
  EXPECT_EQ(ends.decisions[0].ended->began, began);
}

// A phase that keeps humidity from below only does not dry; a dryer in its shortest run ends once
// the air is under the edge.
TEST(Limits, AShortestRunYieldsWhereThePhaseNoLongerLowers) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.keep_above("casing", kHumidity, 90);
    s.part(dryer).limits.shortest_run = minutes(10);
    s.never_stale();
  });
  rig.start("fruiting").humidity(91);
  ASSERT_TRUE(rig.runs(dryer));
  rig.in_phase("casing");
  EXPECT_TRUE(rig.runs(dryer)) << "91 % is above the edge: it keeps its shortest run";
  rig.humidity(89);
  EXPECT_FALSE(rig.runs(dryer));
}

}  // namespace
}  // namespace tubwarden
