// The blind rule `duty`: an actuator without a trusted reading repeats its share of the last day.
#include "unit/chamber/rig.hpp"

namespace tubwarden {
namespace {

constexpr Quantity kHumidity = Quantity::humidity;

void duty(Plans& s) {
  s.keep("fruiting", kHumidity, 80, 90);
  s.part(mister).blind = BlindRule::duty;
  s.part(mister).limits = {seconds(2), seconds(10), seconds(30), 60};
}

/// Twelve hours in which the mister runs for 6 s of each 150 s: 4 %.
void half_a_day(Rig& rig) {
  rig.start("fruiting").wait(minutes(1));  // a start counts as a stop just now
  for (int i = 0; i < 12 * 24; ++i) {
    rig.humidity(70);
    EXPECT_TRUE(rig.runs(mister));
    rig.wait(seconds(6));
    rig.humidity(88);
    rig.wait(seconds(60));
    rig.humidity(88);
    rig.wait(seconds(84));
  }
}

/// Runs the rig for `length`, and says for how long the part ran.
Duration ran(Rig& rig, Part part, Duration length) {
  Duration all{0};
  for (Duration t{0}; t < length; t += milliseconds(500)) {
    if (rig.runs(part)) all += milliseconds(500);
    rig.wait(milliseconds(500));
  }
  return all;
}

TEST(BlindDuty, RepeatsTheShareOfTheLastDay) {
  Rig rig(duty);
  half_a_day(rig);
  rig.wait(minutes(3));  // stale after two
  const Duration all = ran(rig, mister, hours(3));
  EXPECT_NEAR(seconds_of(all) / seconds_of(hours(3)), 0.02, 0.002);
  EXPECT_NE(rig.why(mister).find("blind, without a live humidity reading for"), std::string::npos)
      << rig.why(mister);
  EXPECT_NE(rig.why(mister).find("it runs for 2 % of the time, of the 4 % of its last day"),
            std::string::npos)
      << rig.why(mister);
  rig.humidity(85);
  EXPECT_EQ(rig.why(mister).find("blind"), std::string::npos) << rig.why(mister);
}

TEST(BlindDuty, IsSafeWithoutADayToRepeat) {
  Rig rig(duty);
  rig.start("fruiting").humidity(70);
  rig.wait(hours(2));
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("it was not watched for long enough"), std::string::npos)
      << rig.why(mister);
}

TEST(BlindDuty, GoesByWhatTheRecordKnows) {
  Rig rig(duty);
  rig.start("fruiting");
  rig.step(event::BlindKnown{"mister", 0.10});
  const Duration all = ran(rig, mister, hours(1));
  EXPECT_NEAR(seconds_of(all), 180.0, 15.0);
  rig.step(event::BlindKnown{"mister", 7.0});
  EXPECT_NE(rig.why(mister).find("10 %"), std::string::npos) << "no share is refused";
}

TEST(BlindDuty, IsCapped) {
  Rig rig(duty);
  rig.start("fruiting");
  rig.step(event::BlindKnown{"mister", 0.8});
  EXPECT_LE(seconds_of(ran(rig, mister, hours(1))), 0.3 * 3600 + 30);
  EXPECT_NE(rig.why(mister).find("it runs for 30 % of the time, of the 80 % of its last day"),
            std::string::npos)
      << rig.why(mister);
}

TEST(BlindDuty, EndsAfterHalfADay) {
  Rig rig(duty);
  rig.start("fruiting");
  rig.step(event::BlindKnown{"mister", 0.10});
  rig.wait(hours(11));
  EXPECT_GT(ran(rig, mister, minutes(50)), Duration{0});
  rig.wait(minutes(15));
  EXPECT_EQ(ran(rig, mister, hours(2)), Duration{0});
  EXPECT_NE(rig.why(mister).find("it repeats its last day for 12h at most"), std::string::npos)
      << rig.why(mister);
  rig.humidity(70);
  EXPECT_TRUE(rig.runs(mister)) << "a reading ends it";
}

TEST(BlindDuty, StandsBelowHandsPhaseAndLimits) {
  Rig rig(duty);
  rig.start("fruiting");
  rig.step(event::BlindKnown{"mister", 0.3});
  rig.step(event::HandOn{{HandKind::attend, "", kRest, rig.now + minutes(20), "tub-1"}});
  EXPECT_EQ(ran(rig, mister, minutes(19)), Duration{0});
  rig.in_phase("empty");
  EXPECT_EQ(ran(rig, mister, hours(1)), Duration{0});
  Rig unconfirmed(duty);
  unconfirmed.step(event::OutputUsable{mister, true, ""});
  unconfirmed.step(event::BlindKnown{"mister", 0.3});
  EXPECT_EQ(ran(unconfirmed, mister, hours(1)), Duration{0});
}

TEST(BlindDuty, OfAHeaterNeedsACutOutOrACeilingThatIsJudged) {
  const auto heats = [](Plans& s) {
    s.keep("fruiting", Quantity::substrate_temperature, 20, 22);
    s.part(mat).blind = BlindRule::duty;
  };
  Rig bare(heats);
  bare.start("fruiting");
  bare.step(event::BlindKnown{"mat", 0.2});
  EXPECT_EQ(ran(bare, mat, hours(1)), Duration{0});
  EXPECT_NE(bare.why(mat).find("it has no cut-out"), std::string::npos) << bare.why(mat);

  Rig cut([&](Plans& s) {
    heats(s);
    s.part(mat).cut_out = true;
  });
  cut.start("fruiting");
  cut.step(event::BlindKnown{"mat", 0.2});
  EXPECT_NEAR(seconds_of(ran(cut, mat, hours(2))), 0.2 * 7200, 121);

  Rig ceiling([&](Plans& s) {
    heats(s);
    s.tubs[0].substrate_ceiling_c = 26;
    s.never_stale();
  });
  ceiling.start("fruiting").air(18);
  ceiling.step(event::BlindKnown{"mat", 0.2});
  EXPECT_GT(ran(ceiling, mat, hours(1)), minutes(5));
  ceiling.air(24);  // with the allowance of 3 C above it: 27
  EXPECT_EQ(ran(ceiling, mat, hours(1)), Duration{0}) << "the ceiling has the last word";
}

TEST(BlindDuty, NeverHeatsWhileItCools) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", Quantity::substrate_temperature, 20, 22);
    s.part(mat).blind = s.part(cooler).blind = BlindRule::duty;
    s.part(mat).cut_out = true;
  });
  rig.start("fruiting");
  rig.step(event::BlindKnown{"mat", 0.3});
  rig.step(event::BlindKnown{"cooler", 0.3});
  Duration both{0}, any{0};
  for (int i = 0; i < 7200; ++i) {
    if (rig.runs(mat) && rig.runs(cooler)) both += seconds(1);
    if (rig.runs(mat) || rig.runs(cooler)) any += seconds(1);
    rig.wait(seconds(1));
  }
  EXPECT_EQ(both, Duration{0});
  EXPECT_GT(any, minutes(30));
}

}  // namespace
}  // namespace tubwarden
