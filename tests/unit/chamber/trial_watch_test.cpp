// What a trial showed, in words.
#include "core/chamber/trial_watch.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

constexpr Instant kBegan{hours(1)};

ActuatorPlan plan_of(Effect effect) {
  ActuatorPlan plan;
  plan.id = "it";
  plan.effect = effect;
  return plan;
}

struct Tried {
  explicit Tried(Effect effect, TrialWatch::Before before = all())
      : watch(plan_of(effect), before, kBegan, seconds(10)) {}
  static TrialWatch::Before all() {
    TrialWatch::Before before;
    before.air = {86.0, 17.0, 18.0, 900.0};
    return before;
  }
  Tried& reads(Quantity q, double value, Duration after) {
    watch.reading(q, value, kBegan + after);
    return *this;
  }
  TrialWatch watch;
};

TEST(TrialWatch, WaitsLongestWhenNothingHappens) {
  const Tried t(Effect::humidify);
  EXPECT_EQ(t.watch.over_at(), kBegan + seconds(10) + kTrialAirWatch);
  EXPECT_FALSE(t.watch.good());
  EXPECT_EQ(t.watch.told(),
            "it ran for 10s: nothing confirms it; the air did NOT move. Look at its water, its "
            "power and the lid.");
}

TEST(TrialWatch, EndsSoonAfterTheAirHasMoved) {
  Tried t(Effect::humidify);
  t.reads(Quantity::humidity, 88, seconds(20)).reads(Quantity::humidity, 89, seconds(25));
  EXPECT_EQ(t.watch.over_at(), kBegan + seconds(20) + kTrialFollow);
  EXPECT_TRUE(t.watch.good());
  EXPECT_EQ(t.watch.told(),
            "it ran for 10s: nothing confirms it; humidity went from 86 to 89 % within 25s.");
}

TEST(TrialWatch, TheOtherWayIsNotItsDoing) {
  Tried t(Effect::humidify);
  t.reads(Quantity::humidity, 84, seconds(20));
  EXPECT_FALSE(t.watch.good());
  Tried dried(Effect::dehumidify);
  dried.reads(Quantity::humidity, 84, seconds(20));
  EXPECT_TRUE(dried.watch.good());
}

TEST(TrialWatch, LessThanThreeStepsOfTheSensorIsNoMovement) {
  TrialWatch::Before before = Tried::all();
  before.step[index_of(Quantity::humidity)] = 1.0;
  Tried t(Effect::humidify, before);
  t.reads(Quantity::humidity, 88.9, seconds(20));
  EXPECT_FALSE(t.watch.good());
  t.reads(Quantity::humidity, 89, seconds(21));
  EXPECT_TRUE(t.watch.good());
}

TEST(TrialWatch, AFanMovesTheAirEitherWayButNotTheSubstrate) {
  Tried t(Effect::fresh_air);
  t.reads(Quantity::substrate_temperature, 21, seconds(20));
  EXPECT_FALSE(t.watch.good());
  t.reads(Quantity::co2, 700, seconds(30)).reads(Quantity::humidity, 80, seconds(30));
  EXPECT_TRUE(t.watch.good());
  EXPECT_EQ(t.watch.told(),
            "it ran for 10s: nothing confirms it; humidity went from 86 to 80 % within 30s, CO2 "
            "went from 900 to 700 ppm within 30s.");
}

TEST(TrialWatch, WhatRanMeanwhileIsSaid) {
  Tried t(Effect::fresh_air);
  t.watch.other_runs("mister");
  t.watch.other_runs("mister");
  t.watch.other_runs("mat");
  t.reads(Quantity::humidity, 90, seconds(20));
  EXPECT_NE(t.watch.told().find("to 90 % within 20s (mister and mat ran meanwhile)."),
            std::string::npos)
      << t.watch.told();
}

TEST(TrialWatch, AHeaterMovesAirOrSubstrate) {
  Tried t(Effect::heat);
  t.reads(Quantity::substrate_temperature, 18.3, seconds(100));
  EXPECT_TRUE(t.watch.good());
  Tried cooled(Effect::cool);
  cooled.reads(Quantity::air_temperature, 16, seconds(100));
  EXPECT_TRUE(cooled.watch.good());
}

TEST(TrialWatch, WhatNothingMeasuresIsLookedAt) {
  const Tried t(Effect::light);
  EXPECT_EQ(t.watch.over_at(), kBegan + seconds(10) + kTrialFollow);
  EXPECT_TRUE(t.watch.good());
  EXPECT_EQ(t.watch.told(),
            "it ran for 10s: nothing confirms it; no sensor here measures what it does; look at "
            "it.");
}

TEST(TrialWatch, AConfirmationIsAskedForWhereThereIsOne) {
  TrialWatch::Before before = Tried::all();
  before.confirms = true;
  Tried t(Effect::humidify, before);
  t.reads(Quantity::humidity, 90, seconds(5));
  EXPECT_FALSE(t.watch.good()) << "moist air alone is no proof that this output ran";
  EXPECT_NE(t.watch.told().find("did NOT confirm running"), std::string::npos);
  t.watch.confirmed(kRest, kBegan + milliseconds(5));  // a word from before
  t.watch.confirmed(kRun, kBegan + milliseconds(300));
  EXPECT_FALSE(t.watch.good());
  EXPECT_NE(t.watch.told().find("did NOT confirm rest"), std::string::npos);
  t.watch.confirmed(kRest, kBegan + seconds(12));
  EXPECT_TRUE(t.watch.good());
  EXPECT_NE(t.watch.told().find("rest 2s after its end"), std::string::npos);
  EXPECT_EQ(t.watch.over_at(), kBegan + seconds(10) + kTrialFollow);
}

}  // namespace
}  // namespace tubwarden
