// Grain, substrate, spawn, casing and air: published values and second calculations, and what is
// refused.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "core/kitchen/breath.hpp"
#include "core/kitchen/grain.hpp"
#include "core/kitchen/mix.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

double figure(const Result<Sum>& sum, const std::string& name) {
  EXPECT_TRUE(sum.ok()) << sum.error().text;
  if (!sum.ok()) return 0.0;
  for (const Figure& f : sum->found) {
    if (f.name == name) return f.value;
  }
  ADD_FAILURE() << "no figure " << name;
  return 0.0;
}

std::string why_not(const Result<Sum>& sum) { return sum.ok() ? "" : sum.error().text; }

// Stamets, Growing Gourmet and Medicinal Mushrooms, p. 130, prints 800 g of rye with 600 mL as 43 %
// and 100 g with 150 mL as 60 %: the grain's own 11 % (Stamets & Chilton 1983, p. 45) left out.
TEST(Grain, CountsTheWaterItBringsAlong) {
  EXPECT_NEAR(grain_moisture(0.8, 0.0, 0.6), 0.43, 0.005);
  EXPECT_NEAR(grain_moisture(0.8, kGrainMoisture, 0.6), 0.491, 0.0005);
  EXPECT_NEAR(grain_moisture(0.1, kGrainMoisture, 0.15), 0.644, 0.0005);
  // A second calculation.
  EXPECT_NEAR(grain_water_kg(1.0, 0.11, 0.49), 0.7451, 5e-5);
  EXPECT_NEAR(grain_water_kg(1.0, 0.11, 0.54), 0.9348, 5e-5);
  EXPECT_NEAR(figure(grain_sum({2.0, 0.11, 0.52}), "water taken up"), 2 * 0.8542, 1e-4);
}

TEST(Grain, SaysWhatIsUnusualAndRefusesWhatIsNone) {
  EXPECT_EQ(grain_sum({2.0, 0.11, 0.52})->says.size(), 1U);
  EXPECT_THAT(grain_sum({2.0, 0.11, 0.60})->says.back(), HasSubstr("49 to 54 %"));
  EXPECT_THAT(why_not(grain_sum({0.0, 0.11, 0.52})), HasSubstr("more than 0 kg"));
  EXPECT_THAT(why_not(grain_sum({1.0, 0.52, 0.52})), HasSubstr("above the grain's own"));
  EXPECT_THAT(why_not(grain_sum({1.0, 0.11, 0.80})), HasSubstr("to 75 %"));
}

TEST(SubstrateSum, WeighsCarbonNitrogenAndWater) {
  const Material straw = *material_named("wheat-straw");
  const Material manure = *material_named("horse-manure");
  const SubstrateWish alone{{{manure, 10.0}}, 0.8};
  EXPECT_NEAR(substrate_of(alone)->carbon_nitrogen, 30.0, 1e-9) << "one material keeps its own";
  EXPECT_NEAR(substrate_of(alone)->dry_kg, 2.8, 1e-9);
  EXPECT_NEAR(substrate_of(alone)->water_kg, 4.0, 1e-9);
  // By hand: 3.52 kg dry straw with 14.08 g N, 1.68 kg dry manure with 26.88 g N.
  const SubstrateWish both{{{straw, 4.0}, {manure, 6.0}}, 0.69};
  EXPECT_NEAR(substrate_of(both)->carbon_nitrogen, (14.08 * 127 + 26.88 * 30) / 40.96, 1e-6);
  EXPECT_NEAR(figure(substrate_sum(both), "wet mass"), 5.2 / 0.31, 1e-6);
  EXPECT_NEAR(figure(substrate_sum(both), "gypsum, 2 % of the dry mass"), 0.104, 1e-9);
  EXPECT_THAT(substrate_sum(both)->says[0], HasSubstr("More carbon"));
  EXPECT_THAT(substrate_sum(both)->cautions, Not(IsEmpty()));
}

TEST(SubstrateSum, RefusesWhatMakesNone) {
  const Material manure = *material_named("horse-manure");
  EXPECT_THAT(why_not(substrate_sum({})), HasSubstr("MATERIAL=MASS"));
  EXPECT_THAT(why_not(substrate_sum({{{manure, 0.0}}, 0.7})), HasSubstr("more than 0 kg"));
  EXPECT_THAT(why_not(substrate_sum({{{manure, 1.0}}, 0.6})), HasSubstr("wetter than wanted"));
  EXPECT_THAT(why_not(substrate_sum({{{manure, 1.0}}, 0.95})), HasSubstr("30 to 85 %"));
  EXPECT_FALSE(material_named("sand"));
}

TEST(SpawnAndCasing, AreSharesAndVolumes) {
  const auto spawn = spawn_sum({5.0, 0.05, 0.1});
  EXPECT_NEAR(figure(spawn, "spawn"), 0.25, 1e-9);
  EXPECT_EQ(figure(spawn, "jars"), 3.0);
  EXPECT_EQ(figure(spawn_sum({5.0, 0.05, 0.125}), "jars"), 2.0) << "no jar for a rounding";
  EXPECT_NEAR(figure(casing_sum({0.6, 0.4, 0.04}), "casing"), 9.6, 1e-9);
  EXPECT_THAT(casing_sum({0.6, 0.4, 0.08})->says[0], HasSubstr("2.5 to 5 cm"));
  EXPECT_THAT(why_not(spawn_sum({0.0, 0.05, 0.0})), HasSubstr("more than 0 kg"));
  EXPECT_THAT(why_not(spawn_sum({5.0, 0.5, 0.0})), HasSubstr("30 %"));
  EXPECT_THAT(why_not(casing_sum({0.6, 0.0, 0.04})), HasSubstr("above 0"));
  EXPECT_THAT(why_not(casing_sum({0.6, 0.4, 0.2})), HasSubstr("15 cm"));
}

// Second calculations from the rates of a growers' manual.
TEST(FreshAir, HoldsATubOfFiveKilogramsInFlush) {
  EXPECT_NEAR(co2_grams_per_litre({16.0}), 1.8548, 2e-4);
  EXPECT_NEAR(co2_grams_per_hour(5.0, 0.5, {16.0}), 0.753, 5e-4);
  FreshAirWish wish{5.0, 0.5, 1000.0, 420.0, 16.0, 40.0};
  EXPECT_NEAR(figure(fresh_air_sum(wish), "fresh air"), 0.70, 0.005);
  EXPECT_NEAR(figure(fresh_air_sum(wish), "air changes"), 17.5, 0.1);
  wish.keep_below_ppm = 2000.0;
  EXPECT_NEAR(figure(fresh_air_sum(wish), "fresh air"), 0.257, 0.001);
  wish.keep_below_ppm = 420.0;
  EXPECT_THAT(why_not(fresh_air_sum(wish)), HasSubstr("above the room's"));
  EXPECT_THAT(why_not(fresh_air_sum({0.0, 0.0, 1000.0, 420.0, 16.0, {}})), HasSubstr("not both 0"));
  EXPECT_THAT(why_not(fresh_air_sum({5.0, 0.0, 1000.0, 420.0, 30.0, {}})), HasSubstr("26 C"));
}

// ASTM E741's decay; its rate from two points is ln(1600/600) / 0.5 h = 1.9617.
TEST(AirChanges, AreReadFromADecayAndFromNothingElse) {
  std::vector<Co2Sample> decay;
  for (int i = 0; i <= 30; ++i) {
    decay.push_back({minutes(i), Ppm{400.0 + 1600.0 * std::exp(-1.9617 * i / 60.0)}});
  }
  const auto sum = air_changes_sum(decay, Ppm{400.0}, 40.0);
  EXPECT_NEAR(figure(sum, "air changes"), 1.9617, 1e-4);
  EXPECT_NEAR(figure(sum, "flow"), 0.0785, 1e-4);
  auto breathing = decay;
  for (std::size_t i = 10; i < 20; ++i) breathing[i].co2.value += 900.0;
  EXPECT_THAT(why_not(air_changes_sum(breathing, Ppm{400.0}, {})), HasSubstr("R2"));
  EXPECT_THAT(why_not(air_changes_sum({decay.data(), 9}, Ppm{400.0}, {})), HasSubstr("10 or more"));
  EXPECT_THAT(why_not(air_changes_sum({decay.data(), 10}, Ppm{400.0}, {})), HasSubstr("a third"));
  EXPECT_THAT(why_not(air_changes_sum(decay, Ppm{1100.0}, {})), HasSubstr("none below it"));
}

// A second calculation by the formula of ASHRAE Fundamentals: 17 C, 90 %.
TEST(DewSum, GivesDewPointAndRatio) {
  EXPECT_NEAR(figure(dew_sum({17.0}, {90.0}), "dew point"), 15.35, 0.01);
  EXPECT_NEAR(figure(dew_sum({17.0}, {90.0}), "humidity ratio"), 10.893, 0.01);
  EXPECT_NEAR(figure(dew_sum({17.0}, {90.0}), "vapour pressure deficit"), 0.194, 0.001);
  EXPECT_THAT(why_not(dew_sum({17.0}, {0.0})), HasSubstr("above 0 %"));
  EXPECT_THAT(why_not(dew_sum({99.0}, {50.0})), HasSubstr("60 C"));
}

}  // namespace
}  // namespace tubwarden
