// A rehearsed grow whose plan goes on by itself: by time, by what is read, and round the flushes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "grow_rig.hpp"
#include "rehearsal/grow_play.hpp"

namespace tubwarden::rehearsal {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::Not;

/// Colonization for 20 h; pinning until 2 h of humid air; then flushes of 24 h and rests of 12 h.
GrowPlan planned_grow() {
  GrowPlan grow = a_grow();
  auto profile = a_profile();
  const auto goes = [&](std::size_t phase, const char* next) -> NextPlan& {
    profile->phases[phase].next = next;
    profile->phases[phase].next_plan.how = NextPlan::How::go;
    return profile->phases[phase].next_plan;
  };
  goes(0, kPhasePinning).after = hours(20);
  goes(1, kPhaseFruiting).when[index_of(Quantity::humidity)] =
      NextCondition{std::nullopt, 85.0, hours(2)};
  goes(2, "rest").after = hours(24);
  PhasePlan rest;
  rest.name = "rest";
  rest.stage_of = kPhaseFruiting;
  rest.quantities[index_of(Quantity::humidity)] = kept_between(82.0, 88.0);
  profile->phases.push_back(rest);
  goes(3, kPhaseFruiting).after = hours(12);
  profile->phases[3].next_plan.how = NextPlan::How::ask;
  grow.tubs[0].profile = profile;
  return grow;
}

PlannedGrow planned(const GrowPlan& grow, Duration length) {
  GrowOrder order;
  order.length = length;
  auto plan = plan_grow(grow, order);
  EXPECT_TRUE(plan.ok());
  return std::move(plan).value();
}

TEST(PlannedPhases, AreForeseenByTheirPlan) {
  const PlannedGrow plan = planned(planned_grow(), hours(96));
  const auto& stages = plan.airs[0].walks[0].stages;
  ASSERT_GE(stages.size(), 5u);
  EXPECT_EQ(stages[0].to, hours(20)) << "its plan, not what is expected";
  EXPECT_TRUE(stages[1].by_plan);
  EXPECT_EQ(stages[1].to, hours(32)) << "a reading decides: as expected, 12 h";
  EXPECT_EQ(stages[2].phase, kPhaseFruiting);
  EXPECT_EQ(stages[2].flush, 1);
  EXPECT_EQ(stages[3].phase, "rest");
  EXPECT_EQ(stages[3].flush, 1);
  EXPECT_EQ(stages[4].phase, kPhaseFruiting);
  EXPECT_EQ(stages[4].flush, 2);
  EXPECT_FALSE(stages[4].by_plan) << "a grower is asked";
  EXPECT_THAT(plan.assumed, Not(Contains(HasSubstr("phase of the profile's own"))));
}

TEST(PlannedPhases, GoOnWhenTheChamberSaysSo) {
  const PlannedGrow plan = planned(planned_grow(), hours(96));
  const PlayedAir played = play_air(plan.airs[0], hours(96));
  EXPECT_TRUE(played.broken.empty()) << played.broken.front();
  const auto& phases = played.tubs.at(0).phases;
  ASSERT_EQ(phases.size(), 6u);
  EXPECT_EQ(phases[0].to, hours(20));
  EXPECT_EQ(phases[1].phase, kPhasePinning);
  EXPECT_GE(phases[1].lasted(), hours(2));
  EXPECT_LT(phases[1].lasted(), hours(6)) << "the air was humid long before twelve hours";
  for (std::size_t i = 2; i + 1 < phases.size(); ++i) {
    EXPECT_EQ(phases[i].from, phases[i - 1].to);
    EXPECT_EQ(phases[i].phase, i % 2 == 0 ? kPhaseFruiting : "rest");
    EXPECT_EQ(phases[i].lasted(), i % 2 == 0 ? hours(24) : hours(12)) << i;
  }
  EXPECT_EQ(phases.back().to, hours(96));
  EXPECT_TRUE(phases[3].alerts.empty()) << "who is asked says so at once";
}

TEST(PlannedPhases, AConditionThatIsNotMetIsWaitedFor) {
  GrowPlan grow = planned_grow();
  auto profile = std::make_shared<Profile>(*grow.tubs[0].profile);
  profile->phases[1].next_plan.when[index_of(Quantity::humidity)]->above = 99.5;
  grow.tubs[0].profile = profile;
  const PlannedGrow plan = planned(grow, hours(60));
  const PlayedAir played = play_air(plan.airs[0], hours(60));
  const auto& phases = played.tubs.at(0).phases;
  ASSERT_EQ(phases.size(), 2u) << "what was foreseen behind it never began";
  EXPECT_EQ(phases[1].phase, kPhasePinning);
  EXPECT_EQ(phases[1].to, hours(60));
}

TEST(PlannedPhases, EachFlushGrowsAnewAndTheThirdGivesLess) {
  const TubPlan tub = a_grow().tubs[0];
  const auto kg = [&](int flush, Duration since) {
    return crop_in(tub, kPhaseFruiting, since, flush).mushrooms_kg;
  };
  const Duration grown = hours(5 * 24);
  EXPECT_GT(kg(1, grown), 0.0);
  EXPECT_DOUBLE_EQ(kg(2, grown), kg(1, grown));
  EXPECT_NEAR(kg(3, grown), 0.6 * kg(1, grown), 1e-9);
  EXPECT_EQ(kg(1, hours(9 * 24)), 0.0) << "picked, and no second one behind it";
  EXPECT_GT(crop_in(tub, kPhaseFruiting, hours(9 * 24)).mushrooms_kg, 0.0)
      << "without stages one flush follows the other";
}

TEST(PlannedPhases, TheBedsMoveWithThePhase) {
  const PlannedGrow plan = planned(planned_grow(), hours(96));
  const auto& world = plan.airs[0].plan;
  std::vector<PhaseStep> steps = world.phases;
  for (std::size_t i = 2; i < steps.size(); ++i) steps[i].at -= hours(9);
  const auto beds = world.beds_by(steps);
  const auto at = [&](Duration t) {
    return std::any_of(beds.begin(), beds.end(), [&](const BedStep& bed) { return bed.at == t; });
  };
  EXPECT_TRUE(at(steps[2].at));
  EXPECT_TRUE(at(steps[4].at));
}

}  // namespace
}  // namespace tubwarden::rehearsal
