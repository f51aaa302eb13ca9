// When a plan goes on: by time, by what is read, by both, asked for or by itself; and the climate a
// phase keeps meanwhile.
#include "rig.hpp"

namespace tubwarden {
namespace {

NextCondition below(double limit, Duration lasting) { return {limit, std::nullopt, lasting}; }

Rig::Change goes_on(NextPlan plan) {
  return [plan](Plans& p) {
    p.never_stale();
    p.phase("fruiting").next = "rest";
    p.phase("fruiting").next_plan = plan;
    p.phase("rest");
  };
}

NextPlan after(Duration time, NextPlan::How how = NextPlan::How::go) {
  NextPlan plan;
  plan.after = time;
  plan.how = how;
  return plan;
}

NextPlan when_cool(Duration lasting, NextPlan::How how = NextPlan::How::go) {
  NextPlan plan;
  plan.when[index_of(Quantity::substrate_temperature)] = below(18.0, lasting);
  plan.how = how;
  return plan;
}

bool due(const Rig& rig) { return !rig.last.phases_due.empty(); }

TEST(NextPhase, GoesOnAfterItsTimeAndWakesForIt) {
  Rig rig(goes_on(after(hours(48))));
  rig.start("fruiting", hours(24));
  rig.wait(hours(24) - seconds(1));
  EXPECT_FALSE(due(rig));
  rig.wait(seconds(1));
  ASSERT_TRUE(due(rig));
  EXPECT_EQ(rig.last.phases_due[0].tub, "tub-1");
  EXPECT_EQ(rig.last.phases_due[0].to, "rest");
  EXPECT_EQ(rig.last.phases_due[0].why, "it has lasted 2d");
  EXPECT_TRUE(rig.alerts().empty()) << "the warden tells that it went on";
  rig.in_phase("rest");
  EXPECT_FALSE(due(rig));
}

TEST(NextPhase, AsksByAnAlertThatReturnsWithThePhase) {
  Rig rig(goes_on(after(hours(1), NextPlan::How::ask)));
  rig.start("fruiting");
  rig.wait(hours(1));
  EXPECT_FALSE(due(rig));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.phase_due"});
  EXPECT_EQ(rig.alerts_text(),
            "tub-1 is to go on from fruiting, as it has lasted 1h. Its profile goes on to rest: "
            "tubwarden phase tub-1 rest\n");
  EXPECT_EQ(rig.chamber().alerts()[0].rank, AlertRank::today);
  rig.wait(hours(1));
  EXPECT_TRUE(rig.alerts().empty());
  rig.in_phase("rest");
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.phase_due"});
}

TEST(NextPhase, ASuggestionIsNeverDue) {
  Rig rig(goes_on(NextPlan{}));
  rig.start("fruiting", hours(10000));
  rig.wait(hours(1));
  EXPECT_FALSE(due(rig));
  EXPECT_TRUE(rig.alerts().empty());
}

TEST(NextPhase, AConditionHoldsForItsTimeWithoutAGap) {
  Rig rig(goes_on(when_cool(hours(2))));
  rig.start("fruiting");
  rig.substrate(17.5);
  rig.wait(hours(1));
  rig.substrate(18.0);  // not below
  rig.substrate(17.5);
  rig.wait(hours(2) - seconds(1));
  EXPECT_FALSE(due(rig));
  rig.wait(seconds(1));
  ASSERT_TRUE(due(rig));
  EXPECT_EQ(rig.last.phases_due[0].why, "its substrate temperature has been below 18 C for 2h");
}

TEST(NextPhase, AStaleReadingHoldsNothing) {
  Rig rig([](Plans& p) {
    goes_on(when_cool(minutes(10)))(p);
    p.chamber.sensors[bed_sensor].stale_after = minutes(5);
  });
  rig.start("fruiting");
  rig.wait(hours(1));
  EXPECT_FALSE(due(rig)) << "nothing was ever read";
  rig.substrate(17.0);
  rig.wait(hours(1));
  EXPECT_FALSE(due(rig)) << "it went stale half way";
  for (int i = 0; i < 3; ++i) {
    rig.substrate(17.0);
    rig.wait(minutes(4));
  }
  EXPECT_TRUE(due(rig));
}

TEST(NextPhase, ARetainedReadingHoldsNothing) {
  Rig rig(goes_on(when_cool(Duration{0})));
  rig.start("fruiting");
  rig.step(event::Reading{bed_sensor, Quantity::substrate_temperature, 15.0, true, false, {}});
  EXPECT_FALSE(due(rig));
  rig.substrate(15.0);
  EXPECT_TRUE(due(rig));
}

TEST(NextPhase, BothMustHold) {
  NextPlan both = when_cool(hours(1));
  both.after = hours(10);
  Rig rig(goes_on(both));
  rig.start("fruiting");
  rig.substrate(17.0);
  rig.wait(hours(9));
  EXPECT_FALSE(due(rig));
  rig.substrate(19.0);
  rig.wait(hours(2));
  EXPECT_FALSE(due(rig));
  rig.substrate(17.0);
  rig.wait(hours(1));
  ASSERT_TRUE(due(rig));
  EXPECT_EQ(rig.last.phases_due[0].why,
            "it has lasted 12h, and its substrate temperature has been below 18 C for 1h");
}

TEST(NextPhase, BetweenTwoLimitsAndAtTheTopOfTheRange) {
  NextPlan plan;
  plan.when[index_of(Quantity::co2)] = NextCondition{6000.0, 4000.0, Duration{0}};
  Rig rig(goes_on(plan));
  rig.start("fruiting");
  rig.step(event::Reading{air_sensor, Quantity::co2, 5000.0, false, true, Duration{0}});
  EXPECT_FALSE(due(rig)) << "at least 5000 may be more than 6000";
  rig.co2(4000.0);
  EXPECT_FALSE(due(rig));
}

TEST(NextPhase, NothingGoesOnWithHandsInTheTub) {
  Rig rig(goes_on(when_cool(minutes(30))));
  rig.start("fruiting");
  rig.substrate(17.0);
  rig.wait(minutes(20));
  Hand hand;
  hand.kind = HandKind::attend;
  hand.until = rig.now + minutes(20);
  rig.step(event::HandOn{hand});
  rig.wait(minutes(19));
  EXPECT_FALSE(due(rig));
  rig.wait(minutes(30));
  EXPECT_FALSE(due(rig)) << "the time begins anew behind the hands";
  rig.wait(minutes(2));
  EXPECT_TRUE(due(rig));
}

TEST(NextPhase, NobodyGoesOnFromAPhaseThatIsNotConfirmed) {
  Rig rig(goes_on(after(seconds(1))));
  rig.at(hours(1));
  EXPECT_FALSE(due(rig));
  rig.start("fruiting");
  rig.step(event::PhaseIs{{"tub-1", "fruiting", rig.now - hours(1), {}, true}});
  EXPECT_FALSE(due(rig)) << "taken back once: now it asks";
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.phase_due"});
}

TEST(NextPhase, JarsOnAShelfStayJars) {
  Rig rig([](Plans& p) {
    goes_on(after(hours(1), NextPlan::How::ask))(p);
    p.tubs[0].is_shelf = true;
  });
  rig.start("fruiting", hours(2));
  EXPECT_FALSE(due(rig));
  EXPECT_TRUE(rig.alerts().empty());
}

TEST(NextPhase, AnotherPlanBeginsAnewAndTheSameGoesOn) {
  Rig rig(goes_on(when_cool(hours(1))));
  rig.start("fruiting");
  rig.substrate(17.0);
  rig.wait(minutes(40));
  rig.adopt([](Plans&) {});
  rig.wait(minutes(20));
  EXPECT_TRUE(due(rig)) << "a reload of the same plan";
  rig.in_phase("rest").in_phase("fruiting");
  rig.wait(minutes(40));
  rig.adopt([](Plans& p) {
    p.phase("fruiting").next_plan.when[index_of(Quantity::substrate_temperature)]->below = 17.5;
  });
  rig.wait(minutes(20));
  EXPECT_FALSE(due(rig));
}

TEST(KeptInAPhase, SumsUpWhatWasJudgedAndWhatRan) {
  Rig rig([](Plans& p) {
    p.never_stale();
    p.keep("fruiting", Quantity::humidity, 85.0, 90.0);
    p.phase("rest");
  });
  rig.start("fruiting");
  rig.wait(minutes(10));  // nothing read yet
  rig.humidity(80.0);     // the mister runs
  rig.wait(minutes(10));
  rig.humidity(88.0);
  rig.wait(minutes(30));
  const KeptSums kept = rig.chamber().take_kept("tub-1", rig.now);
  const QuantityKept& humid = kept.of(Quantity::humidity);
  EXPECT_DOUBLE_EQ(humid.live_s, 2400.0);
  EXPECT_DOUBLE_EQ(humid.banded_s, 2400.0);
  EXPECT_DOUBLE_EQ(humid.inside_s, 1800.0);
  EXPECT_NEAR(humid.mean, (80.0 * 10 + 88.0 * 30) / 40, 1e-9);
  EXPECT_EQ(humid.least, 80.0);
  EXPECT_EQ(humid.most, 88.0);
  EXPECT_EQ(kept.of(Quantity::co2).live_s, 0.0);
  double misted = 0.0;
  for (const OutputKept& output : kept.outputs) misted += output.id == "mister" ? output.run_s : 0;
  EXPECT_GT(misted, 0.0);
  EXPECT_LE(misted, 600.0);
  rig.wait(minutes(5));
  EXPECT_DOUBLE_EQ(rig.chamber().take_kept("tub-1", rig.now).of(Quantity::humidity).live_s, 300.0)
      << "taken, it begins anew";
  rig.wait(minutes(5));
  rig.in_phase("rest");
  EXPECT_EQ(rig.chamber().kept("tub-1"), KeptSums{});
}

TEST(KeptInAPhase, TheBandIsWhereTheGlideHasIt) {
  Rig rig([](Plans& p) {
    p.never_stale();
    p.keep("fruiting", Quantity::air_temperature, 15.0, 17.0).glide = hours(10);
  });
  rig.air(26.0);
  rig.start("fruiting");
  rig.wait(hours(1));
  EXPECT_DOUBLE_EQ(rig.chamber().kept("tub-1").of(Quantity::air_temperature).inside_s,
                   rig.chamber().kept("tub-1").of(Quantity::air_temperature).banded_s)
      << "at 26 C the band begins at 25 to 27, and has come down by one";
  rig.wait(hours(2));
  const QuantityKept kept = rig.chamber().take_kept("tub-1", rig.now).of(Quantity::air_temperature);
  EXPECT_DOUBLE_EQ(kept.live_s, 3 * 3600.0);
  EXPECT_NEAR(kept.inside_s, 3600.0, 60.0) << "then 26 C lies above it";
}

TEST(KeptInAPhase, TimeThatNobodySawCountsForLittle) {
  Rig rig([](Plans& p) {
    p.never_stale();
    p.keep("fruiting", Quantity::humidity, 85.0, 90.0);
  });
  rig.start("fruiting");
  rig.humidity(88.0);
  rig.at(hours(5));  // the process stood still
  EXPECT_DOUBLE_EQ(rig.chamber().kept("tub-1").of(Quantity::humidity).live_s, 300.0);
}

}  // namespace
}  // namespace tubwarden
