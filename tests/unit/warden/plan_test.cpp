// Plans that go on, flushes, and the climate each phase kept: what the warden makes of them.
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace {

using namespace tubwarden;
using fakes::Rig;

/// Fruiting, drying and rest are one loop; the first two go on by themselves, the last asks.
std::shared_ptr<const Profile> looped() {
  auto p = std::make_shared<Profile>(*Rig::profile());
  p->phases.pop_back();  // empty
  for (const char* name : {"drying", "rest"}) {
    PhasePlan stage;
    stage.name = name;
    stage.stage_of = "fruiting";
    p->phases.push_back(stage);
  }
  const auto plan = [&](const std::string& name) -> PhasePlan& {
    for (PhasePlan& phase : p->phases) {
      if (phase.name == name) return phase;
    }
    throw std::logic_error(name);
  };
  const auto goes = [&](const std::string& name, const std::string& next, Duration after,
                        NextPlan::How how) {
    plan(name).next = next;
    plan(name).next_plan.after = after;
    plan(name).next_plan.how = how;
  };
  goes("colonization", "casing", hours(48), NextPlan::How::go);
  goes("fruiting", "drying", hours(24), NextPlan::How::go);
  goes("drying", "rest", hours(2), NextPlan::How::go);
  goes("rest", "fruiting", hours(72), NextPlan::How::ask);
  return p;
}

struct PlanTest : ::testing::Test {
  Rig r;
  Loaded loaded(const std::string& phase, const std::string& batch = "B-01") {
    Loaded l = Rig::loaded(phase, batch);
    l.grow.tubs[0].profile = looped();
    return l;
  }
  void start(const std::string& phase) {
    r.adopt(loaded(phase));
    r.up();
    r.ask("phase", {{"tub", "tub-1"}, {"phase", phase}});
  }
  std::vector<PhaseTransition> transitions() { return r.record.all<PhaseTransition>(); }
  nlohmann::json topic() {
    return nlohmann::json::parse(r.broker.retained.at("tubwarden/shed/tub/tub-1/phase"));
  }
};

TEST_F(PlanTest, GoesOnByTimeAndSaysSoEverywhere) {
  start("colonization");
  r.pass(hours(48) - minutes(1));
  EXPECT_EQ(r.tub()["phase"], "colonization");
  r.pass(minutes(1));
  EXPECT_EQ(r.tub()["phase"], "casing");
  EXPECT_EQ(r.tub()["file_phase"], "colonization");
  EXPECT_EQ(topic()["phase"], "casing");
  EXPECT_EQ(topic()["by"], "plan");
  ASSERT_EQ(transitions().size(), 2U);
  EXPECT_EQ(transitions()[1].cause, PhaseCause::plan);
  EXPECT_EQ(transitions()[1].note, "it has lasted 2d");
  const auto& entries = r.record.entries;
  const auto went = std::find_if(entries.begin(), entries.end(), [](const Entry& e) {
    const auto* change = std::get_if<PhaseTransition>(&e.body);
    return change != nullptr && change->cause == PhaseCause::plan;
  });
  EXPECT_EQ(went->who, "daemon");
  EXPECT_TRUE(std::holds_alternative<PhaseKept>(std::prev(went)->body));
  EXPECT_TRUE(r.standing("phase_went_on"));
  EXPECT_EQ(r.channels.notices.back().rank, AlertRank::noted);
  EXPECT_NE(r.channels.notices.back().text.find("tubwarden phase tub-1 colonization"),
            std::string::npos);
  r.pass(hours(13));
  EXPECT_FALSE(r.standing("phase_went_on")) << "old news";
  EXPECT_EQ(r.tub()["phase"], "casing") << "which has no plan";
}

TEST_F(PlanTest, AskedForItWaitsForTheGrower) {
  start("rest");
  r.pass(hours(80));
  EXPECT_EQ(r.tub()["phase"], "rest");
  EXPECT_TRUE(r.standing("phase_due"));
  const auto answer = r.ask("phase", {{"tub", "tub-1"}, {"phase", "next"}});
  ASSERT_TRUE(answer->came);
  EXPECT_EQ(r.tub()["phase"], "fruiting");
  EXPECT_FALSE(r.standing("phase_due"));
}

TEST_F(PlanTest, NextIsRefusedWhereThePlanNamesNothing) {
  start("casing");
  const auto answer = r.ask("phase", {{"tub", "tub-1"}, {"phase", "next"}});
  ASSERT_TRUE(answer->error);
  EXPECT_EQ(answer->error->text,
            "its plan names nothing that follows casing; say the phase: tubwarden phase tub-1 "
            "PHASE");
}

TEST_F(PlanTest, TakenBackItAsksFromThenOn) {
  start("colonization");
  r.pass(hours(48) + seconds(30));
  ASSERT_EQ(r.tub()["phase"], "casing");
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  ASSERT_EQ(transitions().back().cause, PhaseCause::correction);
  EXPECT_FALSE(r.standing("phase_went_on"));
  r.pass(hours(24));
  EXPECT_EQ(r.tub()["phase"], "colonization") << "its time was over at once";
  EXPECT_TRUE(r.standing("phase_due"));
}

TEST_F(PlanTest, TakenBackBeforeAStartItAsksToo) {
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "colonization";
  known.file_seen = "colonization";
  known.place_seen = "tub-1";
  known.since = {r.clock.wall(), true, "boot-a", r.clock.now() - hours(60)};
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  known.plan_taken_back = true;
  r.warden.remember({known});
  r.adopt(loaded("colonization"));
  r.up();
  r.pass(minutes(1));
  EXPECT_EQ(r.tub()["phase"], "colonization");
  EXPECT_TRUE(r.standing("phase_due"));
}

TEST_F(PlanTest, ElapsedTimeOfAnEarlierRunCounts) {
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "fruiting";
  known.file_seen = "fruiting";
  known.place_seen = "tub-1";
  known.since = {r.clock.wall() - milliseconds(23L * 3600 * 1000), true, "boot-of-yesterday", {}};
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  known.entered = {{"fruiting", 2}};
  r.warden.remember({known});
  r.adopt(loaded("fruiting"));
  r.up();
  EXPECT_EQ(r.tub()["flush"], 2);
  r.pass(minutes(59));
  EXPECT_EQ(r.tub()["phase"], "fruiting");
  r.pass(minutes(1) + seconds(1));
  EXPECT_EQ(r.tub()["phase"], "drying");
  EXPECT_EQ(r.tub()["flush"], 2);
}

TEST_F(PlanTest, WithoutAClockOnlyTheTimeThatIsKnownCounts) {
  r.clock.set = false;
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "fruiting";
  known.file_seen = "fruiting";
  known.place_seen = "tub-1";
  known.since = {r.clock.wall() - milliseconds(30L * 24 * 3600 * 1000), true, "boot-before", {}};
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  r.warden.remember({known});
  r.adopt(loaded("fruiting"));
  r.up();
  r.pass(hours(10));
  EXPECT_EQ(r.tub()["phase"], "fruiting") << "a month ago, by a clock that may be wrong";
  r.clock.set = true;
  r.pass(minutes(10));
  EXPECT_EQ(r.tub()["phase"], "drying");
}

TEST_F(PlanTest, WhatIsAskedForIsNotGoneOnFrom) {
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "colonization";
  known.place_seen = "tub-1";
  known.since = {r.clock.wall(), true, "boot-a", r.clock.now() - hours(60)};
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  r.warden.remember({known});
  r.adopt(loaded("fruiting"));  // the file was never seen, and disagrees
  r.up();
  r.pass(hours(1));
  EXPECT_EQ(r.tub()["phase"], "colonization");
  EXPECT_TRUE(r.standing("phase_unconfirmed"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  r.pass(seconds(2));
  EXPECT_EQ(r.tub()["phase"], "casing");
}

TEST_F(PlanTest, ALoopOfFlushesIsCountedAndSaid) {
  start("fruiting");
  EXPECT_EQ(r.tub()["flush"], 1);
  EXPECT_EQ(r.tub()["loop"], "fruiting");
  EXPECT_EQ(topic()["flush"], 1);
  r.pass(hours(24) + seconds(1));
  EXPECT_EQ(r.tub()["phase"], "drying");
  r.pass(hours(2) + seconds(1));
  EXPECT_EQ(r.tub()["phase"], "rest");
  EXPECT_EQ(r.tub()["flush"], 1);
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  EXPECT_EQ(r.tub()["flush"], 2);
  EXPECT_EQ(transitions().back().flush, 2);
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "rest"}});  // within two minutes: a slip
  EXPECT_EQ(r.tub()["flush"], 1);
  const auto kept = r.record.all<PhaseKept>();
  ASSERT_EQ(kept.size(), 3U);
  EXPECT_EQ(kept[0].phase, "fruiting");
  EXPECT_EQ(kept[0].flush, 1);
  EXPECT_EQ(kept[2].phase, "rest");
}

TEST_F(PlanTest, TheClimateOfAPhaseComesWithItsEnd) {
  start("casing");
  for (int i = 0; i < 60; ++i) {
    r.reading(i < 30 ? "80" : "88");
    r.pass(minutes(1));
  }
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  const auto kept = r.record.all<PhaseKept>();
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_EQ(kept[0].lasted, hours(1));
  const QuantityKept& humid = kept[0].kept.of(Quantity::humidity);
  EXPECT_NEAR(humid.live_s, 3600.0, 1.0);
  EXPECT_NEAR(humid.inside_s, 1800.0, 1.0);
  EXPECT_NEAR(humid.mean, 84.0, 0.1);
}

TEST_F(PlanTest, ASlipKeepsTheClimateOfThePhaseItComesBackTo) {
  start("casing");
  r.reading("88");
  r.pass(minutes(1));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.pass(minutes(1));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "casing"}});
  r.reading("88");
  r.pass(minutes(1));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  const auto kept = r.record.all<PhaseKept>();
  ASSERT_EQ(kept.size(), 2U);
  EXPECT_NEAR(kept[1].kept.of(Quantity::humidity).live_s, 180.0, 1.0);
  EXPECT_EQ(kept[1].lasted, minutes(3));
}

TEST_F(PlanTest, TheClimateIsNotedEachTenMinutesAndGoneOnWith) {
  start("casing");
  for (int i = 0; i < 25; ++i) {
    r.reading("88");
    r.pass(minutes(1));
  }
  ASSERT_FALSE(r.record.kept_rows.empty());
  const KeptNow last = r.record.kept_rows.back();
  EXPECT_EQ(last.so_far.phase, "casing");
  EXPECT_NEAR(last.so_far.kept.of(Quantity::humidity).live_s, 1200.0, 1.0);

  Rig later;
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "casing";
  known.file_seen = "casing";
  known.place_seen = "tub-1";
  known.since = {later.clock.wall(), true, "boot-a", later.clock.now()};
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  known.kept = last.so_far.kept;
  later.warden.remember({known});
  later.adopt(loaded("casing"));
  later.up();
  later.reading("88");
  later.pass(minutes(1));
  later.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  const auto kept = later.record.all<PhaseKept>();
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_NEAR(kept[0].kept.of(Quantity::humidity).live_s, 1260.0, 1.0);
}

TEST_F(PlanTest, AReloadTakesNothingFromTheClimate) {
  start("casing");
  r.reading("88");
  r.pass(minutes(1));
  r.adopt(loaded("casing"));
  r.pass(seconds(30));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  EXPECT_NEAR(r.record.all<PhaseKept>()[0].kept.of(Quantity::humidity).live_s, 90.0, 1.0);
}

TEST_F(PlanTest, AnotherBatchEndsThePhaseOfTheOneBefore) {
  start("casing");
  r.reading("88");
  r.pass(minutes(1));
  r.adopt(loaded("casing", "B-02"));
  const auto kept = r.record.all<PhaseKept>();
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_EQ(kept[0].batch, "B-01");
  EXPECT_NEAR(kept[0].kept.of(Quantity::humidity).live_s, 60.0, 1.0);
}

}  // namespace
