// Steam tables, altitude and lethality against published values.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <vector>

#include "core/kitchen/steam.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;

constexpr double kPsi = 6.894757;

double found(const Result<Sum>& sum, const std::string& name) {
  EXPECT_TRUE(sum.ok()) << sum.error().text;
  if (!sum.ok()) return 0.0;
  for (const Figure& f : sum->found) {
    if (f.name == name) return f.value;
  }
  ADD_FAILURE() << "no figure " << name;
  return 0.0;
}

std::string refused(const Result<Sum>& sum) { return sum.ok() ? "" : sum.error().text; }

std::vector<Probed> each_minute(const std::vector<double>& celsius) {
  std::vector<Probed> log;
  for (const double t : celsius) {
    log.push_back({minutes(static_cast<int>(log.size())), Celsius{t}});
  }
  return log;
}

// IAPWS R7-97(2012), tables 35 and 36 (from memory).
TEST(Steam, MeetsTheCheckPointsOfIapws) {
  EXPECT_NEAR(steam_pressure_mpa(300.0), 0.353658941e-2, 1e-11);
  EXPECT_NEAR(steam_pressure_mpa(500.0), 2.63889776, 1e-8);
  EXPECT_NEAR(steam_pressure_mpa(600.0), 12.3443146, 1e-7);
  EXPECT_NEAR(steam_kelvin(0.1), 372.755919, 1e-6);
  EXPECT_NEAR(steam_kelvin(1.0), 453.035632, 1e-6);
  EXPECT_NEAR(steam_kelvin(10.0), 584.149488, 1e-6);
}

// ASHRAE Fundamentals 2017, chapter 1, table 1.
TEST(Steam, TheAtmosphereThinsAsAshraeHasIt) {
  EXPECT_NEAR(standard_atmosphere(-500).value, 107478, 1);
  EXPECT_NEAR(standard_atmosphere(0).value, 101325, 1);
  EXPECT_NEAR(standard_atmosphere(1000).value, 89875, 1);
  EXPECT_NEAR(standard_atmosphere(4000).value, 61640, 1);
}

// University of Missouri on canning: 240 F (115.6 C) takes 10.5 psi up to 1000 ft. USDA, Complete
// Guide to Home Canning: 12 psi from 2001 to 4000 ft, 15 psi from 8001 to 10000 ft on a dial gauge.
TEST(Steam, TheGaugePressuresOfHomeCanningReachItsTemperature) {
  const auto steam = [](double psi, double feet) {
    return found(hold_sum({psi * kPsi, feet * 0.3048, 15.0}), "steam");
  };
  EXPECT_NEAR(steam(10.5, 500), 115.6, 0.5);
  EXPECT_NEAR(steam(12.0, 3000), 115.6, 0.5);
  EXPECT_NEAR(steam(15.0, 9000), 115.6, 0.8);
}

// A second calculation, from IAPWS-IF97 and the standard atmosphere.
TEST(Steam, FifteenPsiTakesLongerOnAMountain) {
  const struct {
    double metres, steam, factor;
  } rows[] = {{0, 120.95, 1.04}, {1000, 119.14, 1.57}, {2000, 117.41, 2.34}, {3000, 115.78, 3.40}};
  for (const auto& row : rows) {
    const auto sum = hold_sum({15.0 * kPsi, row.metres, 15.0});
    EXPECT_NEAR(found(sum, "steam"), row.steam, 0.01) << row.metres;
    EXPECT_NEAR(found(sum, "the load's middle holds it for") / 15.0, row.factor, 0.01);
    EXPECT_THAT(sum->cautions[0], HasSubstr("never run above its rated pressure"));
  }
}

TEST(Steam, RefusesWhatNoVesselDoes) {
  EXPECT_THAT(refused(hold_sum({31 * kPsi, 0, 15})), HasSubstr("30 psi"));
  EXPECT_THAT(refused(hold_sum({-1, 0, 15})), HasSubstr("0 to 30 psi"));
  EXPECT_THAT(refused(hold_sum({100, 6000, 15})), HasSubstr("5000 m"));
  EXPECT_THAT(refused(hold_sum({100, 0, 0})), HasSubstr("above 0"));
}

// FDA, proposed rule of 1 June 1976, 21 CFR 212.3: reference 121.1 C, z 10 C.
TEST(Lethality, AMinuteTenDegreesBelowIsWorthATenth) {
  EXPECT_DOUBLE_EQ(lethal_rate({121.1}), 1.0);
  EXPECT_NEAR(lethal_rate({111.1}), 0.1, 1e-12);
  EXPECT_NEAR(lethal_rate({100.0}), 0.0078, 5e-5);
  EXPECT_NEAR(lethal_rate({115.0}), 0.2455, 5e-5);
}

TEST(Lethality, AddsUpALogByTheTrapezoid) {
  const auto flat = lethality(each_minute(std::vector<double>(16, 121.1)));
  ASSERT_TRUE(flat.ok());
  EXPECT_NEAR(flat->f0, 15.0, 1e-9);
  // A second calculation.
  const auto run = lethality(each_minute({115, 118, 120, 121.1, 121.1, 121.1, 119, 112}));
  ASSERT_TRUE(run.ok());
  EXPECT_NEAR(run->f0, 5.0669, 5e-5);
  EXPECT_EQ(run->lasted, minutes(7));
}

TEST(Lethality, RefusesWhatIsNoSampling) {
  EXPECT_THAT(refused(lethality_sum(each_minute({121}))), HasSubstr("fewer than two"));
  EXPECT_THAT(refused(lethality_sum(each_minute({121, 161}))), HasSubstr("reading 2: 161.0 C"));
  auto log = each_minute({121, 121, 121});
  log[2].at = minutes(7);
  EXPECT_THAT(refused(lethality_sum(log)), HasSubstr("360 s without a reading before reading 3"));
  log[2].at = minutes(1);
  EXPECT_THAT(refused(lethality_sum(log)), HasSubstr("reading 3 is not later"));
}

TEST(Lethality, GrowsWithEachReadingToWhatTheLogSays) {
  const auto log = each_minute({115, 118, 120, 121.1, 121.1, 121.1, 119, 112});
  LethalityWatch watch;
  for (const Probed& reading : log) watch.add(reading);
  EXPECT_DOUBLE_EQ(watch.so_far().f0, lethality(log)->f0);
  EXPECT_EQ(watch.so_far().hottest_c, 121.1);
  EXPECT_EQ(watch.readings(), 8u);
}

TEST(Lethality, DoesNotCountWhatWasNotSampled) {
  LethalityWatch watch;
  watch.add({minutes(0), {121.1}});
  watch.add({minutes(2), {121.1}});
  watch.add({minutes(2), {160.0}});  // the same moment again
  watch.add({minutes(3), {161.0}});  // no temperature of a load
  watch.add({minutes(9), {121.1}});
  watch.add({minutes(10), {121.1}});
  EXPECT_NEAR(watch.so_far().f0, 3.0, 1e-9);
  EXPECT_EQ(watch.unsampled(), minutes(7));
  EXPECT_EQ(watch.readings(), 4u);
  const Sum sum = watch.sum(15.0);
  EXPECT_THAT(sum.says.front(), HasSubstr("is not sterile"));
  EXPECT_THAT(sum.says.back(), HasSubstr("For 7 min no reading"));
  EXPECT_THAT(watch.sum(3.0).says.front(), HasSubstr("was reached"));
}

}  // namespace
}  // namespace tubwarden
