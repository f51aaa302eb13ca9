// Saturated salts, the line through two known points, and what follows from readings together.
#include <gtest/gtest.h>

#include <limits>

#include "core/air/calibration.hpp"
#include "core/air/derived.hpp"
#include "core/air/psychrometrics.hpp"
#include "core/air/salts.hpp"

namespace tubwarden {
namespace {

struct Row {
  Salt salt;
  double celsius, humidity;
};

// L. Greenspan, J. Res. NBS 81A(1), 1977, table 2. Those of NaCl and MgCl2 were seen in notes that
// re-read the table; the others are from memory.
TEST(Salts, AreGreenspansWithinAHundredth) {
  for (const Row& row : {Row{Salt::sodium_chloride, 15, 75.61},
                         {Salt::sodium_chloride, 20, 75.47},
                         {Salt::sodium_chloride, 25, 75.29},
                         {Salt::sodium_chloride, 30, 75.09},
                         {Salt::magnesium_chloride, 15, 33.30},
                         {Salt::magnesium_chloride, 20, 33.07},
                         {Salt::magnesium_chloride, 25, 32.78},
                         {Salt::magnesium_chloride, 30, 32.44},
                         {Salt::lithium_chloride, 20, 11.31},
                         {Salt::potassium_chloride, 20, 85.11},
                         {Salt::potassium_sulfate, 20, 97.59}}) {
    const auto point = over_salt(row.salt, Celsius{row.celsius});
    ASSERT_TRUE(point);
    EXPECT_NEAR(point->humidity.value, row.humidity, 0.015) << row.celsius;
    EXPECT_GT(point->uncertainty, 0.0);
  }
}

TEST(Salts, SayNothingOutsideTheirTemperatures) {
  EXPECT_FALSE(over_salt(Salt::sodium_chloride, Celsius{9.9}));
  EXPECT_FALSE(over_salt(Salt::sodium_chloride, Celsius{30.1}));
  EXPECT_FALSE(over_salt(Salt::sodium_chloride, Celsius{std::numeric_limits<double>::quiet_NaN()}));
  EXPECT_EQ(salt_named("nacl"), Salt::sodium_chloride);
  EXPECT_FALSE(salt_named("sugar"));
}

TEST(TwoPointLine, GoesThroughBothAndOn) {
  const auto line = two_point({77.0, 75.5}, {35.0, 33.1});
  ASSERT_TRUE(line);
  EXPECT_DOUBLE_EQ(corrected(*line, 77.0), 75.5);
  EXPECT_DOUBLE_EQ(corrected(*line, 35.0), 33.1);
  const Line same = line_of(*line);
  for (const double raw : {0.0, 50.0, 99.0}) {
    EXPECT_NEAR(corrected(*line, raw), raw * same.scale + same.offset, 1e-9);
  }
}

TEST(TwoPointLine, NeedsTwoPointsThatRiseTogether) {
  EXPECT_FALSE(two_point({50, 50}, {50, 60}));
  EXPECT_FALSE(two_point({30, 70}, {70, 30}));
  EXPECT_FALSE(two_point({30, std::numeric_limits<double>::infinity()}, {70, 30}));
}

TEST(DerivedAir, ComesFromItsPartsOnly) {
  const AirParts full{Percent{100}, Celsius{17}, Celsius{17}};
  EXPECT_NEAR(*derived(Derived::dew_point, full), 17.0, 0.05) << "full air dews at its temperature";
  EXPECT_NEAR(*derived(Derived::bed_drying, full), 0.0, 1e-6);
  // A bed 2 C warmer than full air dries into it all the same.
  EXPECT_GT(*derived(Derived::bed_drying, {Percent{100}, Celsius{17}, Celsius{19}}), 0.2);
  // By hand: the deficit is es(17) - 0.875 es(17), in kPa.
  const double es = saturation_pressure(Celsius{17}).value;
  EXPECT_NEAR(*derived(Derived::bed_drying, {Percent{87.5}, Celsius{17}, Celsius{17}}),
              0.125 * es / 1000.0, 1e-6);
  EXPECT_FALSE(derived(Derived::dew_point, {Percent{88}, std::nullopt, Celsius{17}}));
  EXPECT_FALSE(derived(Derived::bed_drying, {Percent{88}, Celsius{17}, std::nullopt}));
}

}  // namespace
}  // namespace tubwarden
