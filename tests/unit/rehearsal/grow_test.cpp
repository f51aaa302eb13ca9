// Which phases a rehearsed grow goes through, what lies in the tub meanwhile, and what is refused.
#include "rehearsal/grow.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "grow_rig.hpp"

namespace tubwarden::rehearsal {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::Not;

GrowOrder days(int count) {
  GrowOrder order;
  order.length = hours(24 * count);
  return order;
}

TEST(Grow, TakesTheMiddleOfWhatAPhaseIsExpectedToLast) {
  const auto planned = plan_grow(a_grow(), days(3));
  ASSERT_TRUE(planned.ok());
  ASSERT_EQ(planned->airs.size(), 1u);
  const auto& stages = planned->airs[0].walks.at(0).stages;
  ASSERT_EQ(stages.size(), 3u);
  EXPECT_EQ(stages[0].phase, kPhaseColonization);
  EXPECT_EQ(stages[0].to, hours(12));  // 10 to 14 h
  EXPECT_EQ(stages[1].from, hours(12));
  EXPECT_EQ(stages[1].to, hours(24));
  EXPECT_EQ(stages[2].phase, kPhaseFruiting);
  EXPECT_EQ(stages[2].to, hours(72));  // nothing follows it
  EXPECT_EQ(planned->airs[0].plan.phases.size(), 3u);
}

TEST(Grow, SaysHowLongItPlaysAPhaseThatSaysNothing) {
  GrowPlan grow = a_grow();
  auto profile = a_profile();
  profile->phases[0].expect = {};
  grow.tubs[0].profile = profile;
  const auto planned = plan_grow(grow, days(20));
  ASSERT_TRUE(planned.ok());
  EXPECT_EQ(planned->airs[0].walks[0].stages[0].to, hours(14 * 24));
  EXPECT_THAT(planned->assumed,
              Contains(HasSubstr("colonization of profile button has no `expect`")));
  EXPECT_THAT(plan_grow(a_grow(), days(20))->assumed, Not(Contains(HasSubstr("no `expect`"))));
}

TEST(Grow, BeginsWhereItIsToldAndLoopsAsTheProfileDoes) {
  GrowPlan grow = a_grow();
  auto profile = a_profile();
  profile->phases[2].expect.late = hours(24);
  profile->phases[2].next = kPhasePinning;
  grow.tubs[0].profile = profile;
  GrowOrder order = days(3);
  order.from = kPhaseFruiting;
  const auto planned = plan_grow(grow, order);
  ASSERT_TRUE(planned.ok());
  std::vector<std::string> phases;
  for (const Stage& stage : planned->airs[0].walks[0].stages) phases.push_back(stage.phase);
  EXPECT_THAT(phases,
              testing::ElementsAre(kPhaseFruiting, kPhasePinning, kPhaseFruiting, kPhasePinning));
  order.from = "harvest";
  EXPECT_EQ(plan_grow(grow, order).error().code, ErrorCode::not_found);
}

TEST(Grow, KeepsJarsJars) {
  GrowPlan grow = a_grow();
  TubPlan jars;
  jars.id = "jars";
  jars.is_shelf = true;
  jars.chamber = "tub-1";
  jars.phase = kPhaseGrain;
  auto profile = a_profile();
  PhasePlan grain;
  grain.name = kPhaseGrain;
  grain.expect.to = hours(24);
  grain.next = kPhaseColonization;
  profile->phases.push_back(grain);
  jars.profile = profile;
  grow.tubs.push_back(jars);
  const auto planned = plan_grow(grow, days(3));
  ASSERT_TRUE(planned.ok());
  ASSERT_EQ(planned->airs[0].walks.size(), 2u);
  EXPECT_TRUE(planned->airs[0].walks[0].leads);
  const auto& stages = planned->airs[0].walks[1].stages;
  ASSERT_EQ(stages.size(), 2u);
  EXPECT_EQ(stages[0].phase, kPhaseGrain);
  EXPECT_EQ(stages[1].phase, kPhaseEmpty);
  EXPECT_EQ(stages[1].to, hours(72));
}

TEST(Grow, RefusesAnAirItCannotPlay) {
  GrowPlan blind = a_grow();
  blind.chambers[0].sensors.clear();
  EXPECT_THAT(plan_grow(blind, days(1)).error().text,
              HasSubstr("tub-1 cannot be rehearsed: it has no sensor"));
  GrowPlan airless = a_grow();
  airless.chambers[0].net_volume = {};
  airless.chambers[0].net_volume.litres_in_phase[kPhaseColonization] = 40.0;
  EXPECT_TRUE(plan_grow(airless, days(1)).ok() == false);
  EXPECT_THAT(plan_grow(airless, days(1)).error().text,
              HasSubstr("its net_volume says nothing for the phase pinning"));
  GrowPlan none = a_grow();
  none.tubs.clear();
  EXPECT_EQ(plan_grow(none, days(1)).error().code, ErrorCode::bad_input);
}

TEST(Beds, GrowAFlushThatDoublesDailyIsPickedAndComesAgain) {
  const TubPlan tub = a_grow().tubs[0];
  const auto kg = [&](int hour) { return crop_in(tub, kPhaseFruiting, hours(hour)).mushrooms_kg; };
  EXPECT_DOUBLE_EQ(kg(5 * 24), 0.5);  // a tenth of the substrate
  EXPECT_NEAR(kg(4 * 24), 0.25, 1e-12);
  EXPECT_NEAR(kg(3 * 24), 0.125, 1e-12);
  EXPECT_DOUBLE_EQ(kg(7 * 24), 0.0);
  EXPECT_DOUBLE_EQ(kg((8 + 5) * 24), 0.5);
  EXPECT_DOUBLE_EQ(kg((16 + 5) * 24), 0.3);
  EXPECT_DOUBLE_EQ(kg((32 + 5) * 24), 0.2);
  EXPECT_DOUBLE_EQ(crop_in(tub, kPhasePinning, hours(5)).mushrooms_kg, 0.0);
  EXPECT_LT(crop_in(tub, kPhaseColonization, hours(5)).casing_m2,
            0.5 * crop_in(tub, kPhasePinning, hours(5)).casing_m2);
  EXPECT_DOUBLE_EQ(crop_in(tub, kPhaseEmpty, hours(5)).substrate_kg, 0.0);
}

TEST(Beds, FollowTheNetVolumeOfThePhaseAndAreWateredInTheMorning) {
  GrowPlan grow = a_grow();
  grow.chambers[0].net_volume.litres_in_phase[kPhasePinning] = 35.0;
  GrowOrder order = days(3);
  order.start_second_of_day = 6 * 3600.0;
  const auto planned = plan_grow(grow, order);
  ASSERT_TRUE(planned.ok());
  const auto& beds = planned->airs[0].plan.beds;
  EXPECT_EQ(beds.front().at, Duration{0});
  std::vector<Duration> mornings;
  for (const BedStep& step : beds) {
    const bool pinning = step.at >= hours(12) && step.at < hours(24);
    EXPECT_DOUBLE_EQ(step.bed.net_air_l, pinning ? 35.0 : 40.0);
    const bool phase_begins =
        step.at == Duration{0} || step.at == hours(12) || step.at == hours(24);
    if (step.bed.watered && !phase_begins) mornings.push_back(step.at);
  }
  // At 8 h, and the world began at 6 h; the spawn run of the first half day is not watered.
  EXPECT_THAT(mornings, testing::ElementsAre(hours(26), hours(50)));
}

TEST(Model, KeepsItsBooksWhenTheBedChanges) {
  const ModelParameters bare = parameters_of(Load::empty, 40.0);
  ChamberModel model(bare, {}, {18.0, 80.0, 420.0, 0.0});
  model.advance(hours(1));
  const TrueAir before = model.air();
  const double given = model.lay({parameters_of(Load::pinning, 40.0).crop, 30.0, true});
  EXPECT_NEAR(given, 250.0, 1e-9);  // 2 kg/m2 on an eighth of a square metre
  const TrueAir after = model.air();
  EXPECT_NEAR(after.humidity_pct, before.humidity_pct, 1e-9);
  EXPECT_NEAR(after.celsius, before.celsius, 1e-9);
  EXPECT_NEAR(after.substrate_c, before.substrate_c, 1e-9);
  EXPECT_NEAR(after.co2_ppm, before.co2_ppm, 1e-9);
  EXPECT_NEAR(after.vapour_g, 0.75 * before.vapour_g, 1e-9);
  model.advance(hours(3));
  const Books books = model.books();
  for (const Book& book : {books.water_g, books.co2_g, books.heat_j}) {
    EXPECT_NEAR(book.inside_now - book.inside_then, book.net, 1e-9 * book.summed);
  }
  EXPECT_GT(model.air().humidity_pct, after.humidity_pct);  // the casing wets it
  // What has been dried out is what a second can gives; a wet one takes none.
  const double dried = 250.0 - model.air().casing_g;
  EXPECT_GT(dried, 0.0);
  EXPECT_NEAR(model.lay({parameters_of(Load::pinning, 40.0).crop, 30.0, true}), dried, 1e-9);
  EXPECT_DOUBLE_EQ(model.lay({parameters_of(Load::pinning, 40.0).crop, 30.0, true}), 0.0);
}

TEST(Room, FollowsItsSeriesFromKnotToKnotAndBeginsAgain) {
  RoomSeries told;
  told.celsius = {{0.0, 10.0}, {3600.0, 20.0}, {7200.0, 10.0}};
  told.humidity_pct = {{0.0, 90.0}, {7200.0, 30.0}};
  told.length_s = 7200.0;
  RoomDay day;
  day.series = std::make_shared<const RoomSeries>(told);
  ChamberModel model(parameters_of(Load::empty, 40.0), day, {10.0, 80.0, 420.0, 0.0});
  EXPECT_NEAR(model.room_celsius(), 10.0, 0.2);
  EXPECT_NEAR(model.room_humidity_pct(), 90.0, 0.5);
  model.advance(minutes(30));
  EXPECT_NEAR(model.room_celsius(), 15.0, 0.2);
  EXPECT_NEAR(model.room_humidity_pct(), 75.0, 1.0);
  EXPECT_NEAR(model.room_co2_ppm(), 420.0, 1e-6);  // it does not tell
  model.advance(minutes(120));
  EXPECT_NEAR(model.room_celsius(), 15.0, 0.2);
}

}  // namespace
}  // namespace tubwarden::rehearsal
