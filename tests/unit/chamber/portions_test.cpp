// A chamber that doses: what starts a portion, how long it is, what it says, and who stops it.
#include <cmath>

#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;

bool says(const std::string& sentence, const std::string& word) {
  return sentence.find(word) != std::string::npos;
}

Rig::Change doses(const Rig::Change& more = {}) {
  return [=](Plans& s) {
    s.chamber.control = Control::portions;
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).rate = 40.0;
    s.part(mister).limits = {milliseconds(500), seconds(20), seconds(5), 60};
    s.room_is(20, 50);
    if (more) more(s);
  };
}

/// A still air that says `value` each five seconds for `time`.
void still(Rig& rig, double value, Duration time) {
  for (Duration passed{0}; passed < time; passed += seconds(5)) {
    rig.wait(seconds(5));
    rig.air(17);
    rig.humidity(value);
  }
}

TEST(Portions, ARunIsAsLongAsTheAirNeeds) {
  // Of a still air at 17 C, 40 g/h lift 40 L by 1.92 % a second.
  const auto first_run = [](double value) {
    Rig rig(doses());
    rig.start("fruiting");
    rig.wait(seconds(30));
    rig.air(17);
    rig.humidity(value);
    EXPECT_TRUE(rig.runs(mister)) << rig.why(mister);
    return seconds_of(rig.last_command(mister).run);
  };
  EXPECT_GE(first_run(86.0), 0.5) << "its shortest run";
  EXPECT_LT(first_run(86.0), 1.5 / 1.92) << "cooled air is the moister for a while";
  EXPECT_GT(first_run(84.0), 1.5 * first_run(86.0));
  EXPECT_EQ(first_run(60.0), 5.0) << "its longest run";
}

TEST(Portions, EndsByItsDriverAndThenRests) {
  Rig rig(doses());
  rig.start("fruiting").air(17);
  rig.wait(seconds(30));
  rig.air(17);
  rig.humidity(80.0);
  ASSERT_TRUE(rig.runs(mister)) << rig.why(mister);
  const Duration run = rig.last_command(mister).run;
  EXPECT_EQ(rig.last.next_wake, rig.now + run);
  rig.wait(run);
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_EQ(rig.last_command(mister).level, kRest);
  rig.wait(seconds(19));
  rig.humidity(80.0);
  EXPECT_FALSE(rig.runs(mister)) << "its shortest rest";
}

TEST(Portions, SaysHowItWasFound) {
  Rig rig(doses());
  rig.start("fruiting");
  rig.wait(seconds(30));
  rig.air(17);
  rig.humidity(85.5);
  ASSERT_TRUE(rig.runs(mister)) << rig.why(mister);
  EXPECT_TRUE(says(rig.why(mister), "humidity is 85.5 %; ")) << rig.why(mister);
  EXPECT_TRUE(says(rig.why(mister), "s of mist, ")) << rig.why(mister);
  EXPECT_TRUE(says(rig.why(mister), "s for each 1 %, aimed at 8")) << rig.why(mister);
  rig.wait(seconds(10));
  rig.humidity(85.5);
  EXPECT_TRUE(says(rig.why(mister), "the last mist settles for another ")) << rig.why(mister);
}

TEST(Portions, NothingStartsInsideAndNothingRunsAbove) {
  Rig rig(doses());
  rig.start("fruiting");
  still(rig, 87.0, minutes(3));
  EXPECT_FALSE(rig.runs(mister));
  still(rig, 84.0, seconds(5));
  ASSERT_TRUE(rig.runs(mister)) << rig.why(mister);
  rig.wait(milliseconds(300)).humidity(90.1);
  EXPECT_FALSE(rig.runs(mister)) << "raising never runs above high";
}

TEST(Portions, ARateAndAFineSensorAreNeeded) {
  Rig rate(doses([](Plans& s) { s.part(mister).rate.reset(); }));
  rate.start("fruiting");
  rate.wait(seconds(30)).humidity(80);
  ASSERT_TRUE(rate.runs(mister));
  EXPECT_EQ(rate.last_command(mister).run, seconds(5)) << "until the middle, its longest at most";
  EXPECT_TRUE(says(rate.why(mister), "(no portions: its rate is not known)")) << rate.why(mister);

  Rig coarse(doses([](Plans& s) { s.chamber.sensors[air_sensor].quantities[0].step = 2.5; }));
  coarse.start("fruiting");
  coarse.wait(seconds(30)).humidity(80);
  EXPECT_TRUE(says(coarse.why(mister), "step is more than 2 %)")) << coarse.why(mister);

  Rig fine(doses([](Plans& s) { s.chamber.sensors[air_sensor].quantities[0].step = 2.0; }));
  fine.start("fruiting");
  fine.wait(seconds(30)).humidity(80);
  EXPECT_FALSE(says(fine.why(mister), "no portions")) << fine.why(mister);
}

TEST(Portions, ASensorThatSpeaksTooSeldomIsDeclined) {
  for (const int each : {60, 61}) {
    Rig rig(doses([](Plans& s) { s.never_stale(); }));
    rig.start("fruiting");
    for (int i = 0; i < 60; ++i) {
      rig.wait(seconds(each));
      rig.humidity(80 + i % 4);
    }
    EXPECT_EQ(says(rig.why(mister), "more than 60s apart)"), each > 60) << rig.why(mister);
  }
}

TEST(Portions, TheFloorIsSpreadOverItsWindow) {
  Rig rig(doses([](Plans& s) {
    s.phase("fruiting").fresh_air = FreshAirFloor{1.0, minutes(15)};  // 72 s of 2 m3/h in 40 L
  }));
  rig.start("fruiting");
  for (int minute = 0; minute < 15; ++minute) still(rig, 87.5, minutes(1));
  Duration ran{0};
  Instant began{};
  bool running = false;
  Duration longest{0};
  int runs = 0;
  for (const Heard& h : rig.heard) {
    if (h.command.actuator != fan) continue;
    if (h.command.level > kRest && !running) {
      began = h.at;
      running = true;
      ++runs;
    }
    if (h.command.level == kRest && running) {
      ran += h.at - began;
      longest = std::max(longest, h.at - began);
      running = false;
    }
  }
  EXPECT_GE(runs, 5);
  EXPECT_LE(longest, seconds(20));
  EXPECT_GE(ran, seconds(60));
}

TEST(Portions, MistMeetsTheFansDryAir) {
  Rig rig(doses([](Plans& s) { s.keep_below("fruiting", Quantity::co2, 1000); }));
  rig.start("fruiting");
  still(rig, 87.0, minutes(2));
  ASSERT_FALSE(rig.runs(mister));
  rig.co2(2000);
  ASSERT_TRUE(rig.runs(fan)) << rig.why(fan);
  EXPECT_TRUE(rig.runs(mister)) << "in the same turn: " << rig.why(mister);
  EXPECT_TRUE(says(rig.why(mister), "against the fan's dry air")) << rig.why(mister);
}

TEST(Portions, WithoutARoomNothingIsFedForward) {
  Rig rig(doses([](Plans& s) {
    s.keep_below("fruiting", Quantity::co2, 1000);
    s.room = {};
  }));
  rig.start("fruiting");
  still(rig, 87.0, minutes(2));
  rig.co2(2000);
  ASSERT_TRUE(rig.runs(fan)) << rig.why(fan);
  rig.wait(seconds(2));
  EXPECT_FALSE(rig.runs(mister)) << rig.why(mister);
}

TEST(Portions, HandsInTheTubStopAllAndTeachNothing) {
  Rig rig(doses());
  rig.start("fruiting");
  still(rig, 84.0, seconds(30));
  Hand attend;
  attend.kind = HandKind::attend;
  attend.until = rig.now + minutes(20);
  rig.step(event::HandOn{attend});
  EXPECT_FALSE(rig.runs(mister));
  still(rig, 60.0, minutes(1));
  EXPECT_FALSE(rig.runs(mister)) << rig.why(mister);
  EXPECT_TRUE(rig.last.learned.empty());
}

TEST(Portions, AnotherPhaseEndsAPortion) {
  Rig rig(doses());
  rig.start("fruiting");
  rig.wait(seconds(30));
  rig.air(17);
  rig.humidity(80.0);
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(milliseconds(100)).in_phase("empty");
  EXPECT_FALSE(rig.runs(mister));
}

TEST(Portions, WhatAnEarlierRunLearnedIsDosedBy) {
  const auto first_run = [](std::optional<double> share) {
    Rig rig(doses());
    rig.start("fruiting");
    if (share) rig.step(event::MistKnown{"mister", {*share, 0.1, 8.0, 0.1}});
    still(rig, 88.0, minutes(1));
    still(rig, 86.0, seconds(10));
    EXPECT_TRUE(rig.commands(mister) > 0);
    for (const Heard& h : rig.heard) {
      if (h.command.actuator == mister && h.command.level == kRun) return seconds_of(h.command.run);
    }
    ADD_FAILURE() << rig.why(mister);
    return 0.0;
  };
  const double nominal = first_run(std::nullopt);
  EXPECT_LT(first_run(1.8), nominal);
  EXPECT_GT(first_run(0.6), nominal);
  EXPECT_EQ(first_run(std::nan("")), nominal) << "a figure that is none is not taken";
  EXPECT_LE(first_run(1e-9), 5.0) << "within its bounds, and the longest run";
}

}  // namespace
}  // namespace tubwarden
