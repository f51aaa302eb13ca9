// The substrate by a slow duty: what the mat is told, what stands above it, what is said.
#include <gtest/gtest.h>

#include "unit/chamber/rig.hpp"

namespace tubwarden {
namespace {

constexpr Quantity kBedT = Quantity::substrate_temperature;

void spawn_run(Plans& p) {
  p.chamber.control = Control::portions;
  p.phase("colonization");
  p.keep("colonization", kBedT, 24.0, 25.5);
  p.tubs[0].substrate_kg = 5.0;
  p.part(mat).rate = 15.0;
  p.part(mat).limits = default_limits(Effect::heat);
  p.part(cooler).limits = default_limits(Effect::cool);
  p.never_stale();
}

Rig spawn(double bed, const Rig::Change& more = {}) {
  Rig rig([&](Plans& p) {
    spawn_run(p);
    if (more) more(p);
  });
  rig.start("colonization");
  rig.now += minutes(2);  // a start counts as a stop just now
  rig.substrate(bed);
  return rig;
}

TEST(ChamberDuty, TheMatRunsForItsShareAndSaysSo) {
  // 0.5 C short: 0.5 K/h of the 3.27 K/h of 15 W under 5 kg is 15.3 % of 20 min, 183 s.
  Rig rig = spawn(24.25);
  EXPECT_TRUE(rig.runs(mat));
  EXPECT_NEAR(seconds_of(rig.last_command(mat).run), 183.3, 0.5) << "its host ends it";
  EXPECT_NE(rig.why(mat).find("15 % of each 20m: substrate temperature is 24.25 C, 0.5 C below the "
                              "middle of its band; this share ends in 3m"),
            std::string::npos)
      << rig.why(mat);
  rig.wait(minutes(4));
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_NE(rig.why(mat).find("the next share comes in 16m"), std::string::npos) << rig.why(mat);
  rig.wait(minutes(17));
  EXPECT_TRUE(rig.runs(mat)) << "another period, without a reading between";
}

TEST(ChamberDuty, AMatWhoseHostComesLateRunsWhenItComes) {
  Rig rig([](Plans& p) {
    spawn_run(p);
    p.part(mat).limits.shortest_rest = seconds(1);
  });
  rig.start("colonization");
  rig.step(event::OutputUsable{mat, false, "its host starts"});
  rig.substrate(22.0);  // nothing obeys: nothing can be asked of this period
  ASSERT_FALSE(rig.runs(mat));
  rig.now += seconds(2);
  rig.step(event::OutputUsable{mat, true, ""});
  rig.substrate(22.0);
  EXPECT_TRUE(rig.runs(mat)) << rig.why(mat);
}

TEST(ChamberDuty, NothingIsGivenAboveTheBand) {
  Rig rig = spawn(24.25);
  rig.substrate(25.6);
  EXPECT_FALSE(rig.runs(mat)) << "inside its share, and inside its shortest run";
  EXPECT_NE(rig.why(mat).find("nothing is given above 25.5 C"), std::string::npos) << rig.why(mat);
}

TEST(ChamberDuty, TheCeilingStandsAboveIt) {
  Rig rig = spawn(24.25, [](Plans& p) { p.tubs[0].substrate_ceiling_c = 24.2; });
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_NE(rig.why(mat).find("the substrate ceiling of 24.2 C locks it off"), std::string::npos);
}

TEST(ChamberDuty, TheLimitsHaveTheLastWord) {
  Rig rig = spawn(23.0, [](Plans& p) { p.part(mat).limits.longest_run = minutes(2); });
  EXPECT_TRUE(rig.runs(mat)) << "54 % of 20 min is 10.7 min";
  rig.wait(minutes(2) + seconds(1));
  EXPECT_FALSE(rig.runs(mat));
  rig.wait(seconds(31));
  EXPECT_TRUE(rig.runs(mat)) << "the rest of its share, after its rest";
}

TEST(ChamberDuty, AttendRestsItAndFreezesWhatIsHeld) {
  Rig rig = spawn(24.25);
  rig.step(event::DutyKnown{"mat", 1.0});
  rig.step(event::HandOn{{HandKind::attend, "", kRest, rig.now + minutes(20), "tub-1"}});
  EXPECT_FALSE(rig.runs(mat));
  for (int i = 0; i < 19; ++i) {
    rig.now += minutes(1);
    rig.substrate(24.25 - 0.01 * i);
    EXPECT_TRUE(rig.last.duties.empty());
  }
  rig.wait(minutes(1) + seconds(1));
  EXPECT_FALSE(rig.runs(mat)) << "what the probe said in somebody's hand is not of the bed";
  rig.now += minutes(1);
  rig.substrate(24.75);
  // At the middle what is held is given: 1 K/h of 3.27 is 31 %.
  EXPECT_NE(rig.why(mat).find("31 % of each 20m"), std::string::npos) << rig.why(mat);
}

TEST(ChamberDuty, WhatItHoldsIsToldAndTakenBack) {
  Rig rig = spawn(24.25);
  double told = 0.0;
  for (int i = 0; i < 48; ++i) {
    rig.now += minutes(5);
    const Effects done = rig.substrate(24.25);
    for (const DutyLearned& d : done.duties) {
      EXPECT_EQ(d.actuator, "mat");
      told = d.k_per_h;
    }
  }
  EXPECT_NEAR(told, 0.5 * 4.0 / 3.0, 0.06) << "a sixth of a kelvin an hour for each hour";
  Rig next = spawn(24.75);
  next.step(event::DutyKnown{"mat", told});
  next.step(event::DutyKnown{"mister", 5.0});  // keeps no bed
  next.wait(minutes(21));
  EXPECT_NE(next.why(mat).find("20 % of each 20m"), std::string::npos) << next.why(mat);
}

TEST(ChamberDuty, OnlyTheTooWarmIsCooledAndNeverBeside) {
  Rig rig = spawn(25.25);
  rig.wait(minutes(4));
  EXPECT_TRUE(rig.runs(cooler)) << "0.5 K/h by a cooler of unknown rate";
  EXPECT_FALSE(rig.runs(mat));
  Rig cold = spawn(24.7);
  cold.step(event::DutyKnown{"cooler", -1.0});
  cold.wait(minutes(21));
  EXPECT_FALSE(cold.runs(cooler)) << cold.why(cooler);
}

TEST(ChamberDuty, HysteresisIsThereForTheAsking) {
  Rig rig = spawn(24.25, [](Plans& p) { p.chamber.control = Control::hysteresis; });
  EXPECT_TRUE(rig.runs(mat));
  EXPECT_EQ(rig.last_command(mat).run, Duration{0});
  EXPECT_NE(rig.why(mat).find("it starts below 24.38 C and stops at 24.75 C"), std::string::npos)
      << rig.why(mat);
  Rig air([](Plans& p) {
    spawn_run(p);
    p.phase("colonization").quantities = {};
    p.keep("colonization", Quantity::air_temperature, 24.0, 25.5);
  });
  air.start("colonization");
  air.now += minutes(2);
  air.air(24.25);
  EXPECT_EQ(air.last_command(mat).run, Duration{0}) << "air answers at once";
}

TEST(ChamberDuty, ABlindMatIsSafe) {
  Rig rig = spawn(24.25);
  rig.step(event::SensorGone{bed_sensor});
  EXPECT_FALSE(rig.runs(mat));
  EXPECT_NE(rig.why(mat).find("safe until a live substrate temperature reading"),
            std::string::npos);
}

}  // namespace
}  // namespace tubwarden
