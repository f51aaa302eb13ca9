#include "core/air/psychrometrics.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <fstream>
#include <string>

#include "unit/air/occupancy.hpp"

namespace tubwarden {
namespace {

double es(double t) { return saturation_pressure({t}).value; }

// WMO-No. 8 Annex 4.B, over water, pure phase, Pa (coefficients after a manual that cites it).
double wmo(double t) { return 611.2 * std::exp(17.62 * t / (243.12 + t)); }
double wmo_dew_point(double t, double rh) {
  const double gamma = std::log(rh / 100.0) + 17.62 * t / (243.12 + t);
  return 243.12 * gamma / (17.62 - gamma);
}
// FAO Irrigation and Drainage Paper 56 eq. 11 (Tetens), Pa.
double fao56(double t) { return 610.8 * std::exp(17.27 * t / (t + 237.3)); }

// ASHRAE Fundamentals 2017 ch. 1 table 3, as carried in psychrolib's test file; 300 ppm as there.
TEST(Psychrometrics, SaturationPressureAsAshraeTable) {
  const std::pair<double, double> table[] = {
      {-5, 401.74}, {5, 872.6}, {25, 3169.7}, {50, 12351.3}, {100, 101418.0}};
  for (const auto& [t, pa] : table) EXPECT_NEAR(es(t), pa, pa * 300e-6) << t;
}

// ASHRAE Fundamentals 2017 ch. 1 table 2 at 101,325 Pa; tolerances as psychrolib's tests have them
// (the table includes the enhancement factor, the formula here does not).
TEST(Psychrometrics, SaturatedHumidityRatioAsAshraeTable) {
  struct Row {
    double t, w, tolerance;
  };
  for (const Row& row : {Row{-5, 0.0024863, 0.005}, Row{5, 0.005425, 0.005},
                         Row{25, 0.020173, 0.005}, Row{50, 0.086863, 0.01}}) {
    EXPECT_NEAR(humidity_ratio({row.t}, {100}), row.w, row.w * row.tolerance) << row.t;
  }
}

// Reference values for the trade, section 3.3: computed there from the ASHRAE formula.
TEST(Psychrometrics, GrowersTable) {
  struct Row {
    double t, rh, e_pa, dew_c, w_g_kg, ah_g_m3, vpd_pa;
  };
  constexpr Row kTable[] = {
      {14, 85, 1358.9, 11.52, 8.454, 10.25, 240},   {16, 85, 1545.7, 13.48, 9.635, 11.58, 273},
      {16, 90, 1636.6, 14.36, 10.211, 12.26, 182},  {16, 95, 1727.5, 15.20, 10.788, 12.95, 91},
      {17, 90, 1744.2, 15.35, 10.893, 13.03, 194},  {18, 85, 1754.6, 15.44, 10.960, 13.06, 310},
      {18, 95, 1961.1, 17.19, 12.275, 14.60, 103},  {20, 50, 1169.4, 9.27, 7.262, 8.64, 1169},
      {20, 90, 2104.9, 18.31, 13.194, 15.56, 234},  {24, 95, 2835.9, 23.15, 17.908, 20.68, 149},
      {25, 60, 1901.5, 16.70, 11.895, 13.82, 1268}, {30, 60, 2547.6, 21.39, 16.041, 18.21, 1698}};
  for (const Row& row : kTable) {
    const Celsius t{row.t};
    const Percent rh{row.rh};
    EXPECT_NEAR(vapour_pressure(t, rh).value, row.e_pa, 0.051) << row.t << " " << row.rh;
    EXPECT_NEAR(dew_point(vapour_pressure(t, rh))->value, row.dew_c, 0.0051) << row.t;
    EXPECT_NEAR(humidity_ratio(t, rh) * 1000.0, row.w_g_kg, 0.00051) << row.t;
    EXPECT_NEAR(absolute_humidity_g_m3(t, rh), row.ah_g_m3, 0.0051) << row.t;
    EXPECT_NEAR(vapour_pressure_deficit(t, rh).value, row.vpd_pa, 0.51) << row.t;
  }
}

// The same section: what tolerance each published form deserves.
TEST(Psychrometrics, OtherPublishedForms) {
  struct Row {
    double t, if97, ashrae, wmo_pa, tetens;
  };
  constexpr Row kTable[] = {
      {10, 1228.18, 1228.00, 1226.03, 1227.96}, {15, 1705.74, 1705.45, 1701.67, 1705.35},
      {17, 1938.29, 1937.95, 1933.27, 1937.73}, {20, 2339.21, 2338.80, 2332.60, 2338.28},
      {25, 3169.75, 3169.22, 3160.06, 3167.78}, {30, 4246.69, 4246.03, 4233.72, 4243.07}};
  for (const Row& row : kTable) {
    EXPECT_NEAR(es(row.t), row.ashrae, 0.0051) << row.t;
    EXPECT_NEAR(es(row.t), row.if97, row.if97 * 2e-4) << "IAPWS-IF97 at " << row.t;
    EXPECT_NEAR(wmo(row.t), row.wmo_pa, 0.0051) << "the test's own WMO form at " << row.t;
    EXPECT_NEAR(fao56(row.t), row.tetens, 0.0051) << "the test's own FAO-56 form at " << row.t;
    EXPECT_NEAR(es(row.t), wmo(row.t), es(row.t) * 3.2e-3) << row.t;
    EXPECT_NEAR(es(row.t), fao56(row.t), es(row.t) * 8e-4) << row.t;
  }
}

// Section 3.3 has WMO's dew point within 0.01 C; that holds in the humidities of a tub, from 80 %.
// Down to 50 % the two forms part by up to 0.022 C (this test's own finding).
TEST(Psychrometrics, DewPointAsWmo) {
  for (double t = 10; t <= 30; t += 1) {
    for (double rh = 50; rh <= 100; rh += 5) {
      const auto dew = dew_point(vapour_pressure({t}, {rh}));
      ASSERT_TRUE(dew);
      EXPECT_NEAR(dew->value, wmo_dew_point(t, rh), rh >= 80 ? 0.0101 : 0.025) << t << " " << rh;
    }
  }
}

// tests/data/remake-psychrolib.sh makes the table.
TEST(Psychrometrics, PsychrolibTable) {
  std::ifstream table(TUBWARDEN_SOURCE_DIR "/tests/data/psychrolib.csv");
  int rows = 0;
  for (std::string line; std::getline(table, line);) {
    double t, rh, p, es_pa, e_pa, w, dew, vpd;
    if (std::sscanf(line.c_str(), "%lf,%lf,%lf,%lf,%lf,%lf,%lf,%lf", &t, &rh, &p, &es_pa, &e_pa, &w,
                    &dew, &vpd) != 8) {
      continue;
    }
    ++rows;
    SCOPED_TRACE(line);
    EXPECT_NEAR(es(t), es_pa, es_pa * 1e-9);
    EXPECT_NEAR(vapour_pressure({t}, {rh}).value, e_pa, e_pa * 1e-9);
    EXPECT_NEAR(humidity_ratio({t}, {rh}, {p}), w, w * 1e-9);
    EXPECT_NEAR(relative_humidity({t}, w, {p}).value, rh, 1e-6);
    EXPECT_NEAR(vapour_pressure_deficit({t}, {rh}).value, vpd, 1e-6 * es_pa);
    // psychrolib stops its search at 0.001 C; around the triple point the two forms meet.
    EXPECT_NEAR(dew_point(vapour_pressure({t}, {rh}))->value, dew, 0.0021);
  }
  EXPECT_EQ(rows, 414);
}

// Section 3.3: bed at 20 C, air at 17 C and 90 %; and the water that a m3 of room air wants.
TEST(Psychrometrics, BedWarmerThanItsAir) {
  EXPECT_NEAR(vapour_pressure_deficit({20}, {17}, {90}).value, 595, 0.51);
  EXPECT_LT(vapour_pressure_deficit({14}, {17}, {90}).value, 0) << "a cold bed takes water up";
  const double dry_kg_m3 = (kSeaLevel.value - vapour_pressure({20}, {50}).value) /
                           (287.05 * 293.15);  // ideal gas, Rd of dry air
  const double grams = 1000 * dry_kg_m3 * (humidity_ratio({17}, {90}) - humidity_ratio({20}, {50}));
  EXPECT_NEAR(grams, 4.32, 0.0051);
}

// Section 4: 90 % at 17 C reads 84.5 with the sensor 1 C warm, 95.9 with it 1 C cold.
TEST(Psychrometrics, SensorOfAnotherTemperatureReadsAnotherHumidity) {
  const double w = humidity_ratio({17}, {90});
  EXPECT_NEAR(relative_humidity({18}, w).value, 84.5, 0.051);
  EXPECT_NEAR(relative_humidity({16}, w).value, 95.9, 0.051);
}

TEST(Psychrometrics, DewPointHasLimits) {
  EXPECT_FALSE(dew_point({0.0}));
  EXPECT_FALSE(dew_point({-3.0}));
  EXPECT_FALSE(dew_point({std::nan("")}));
  EXPECT_FALSE(dew_point({1e-4})) << "below -100 C";
  EXPECT_FALSE(dew_point({1.7e6})) << "above 200 C";
  for (double t = -60; t <= 90; t += 0.7) {
    const auto dew = dew_point({es(t)});
    ASSERT_TRUE(dew);
    EXPECT_NEAR(dew->value, t, 1e-6);
  }
}

TEST(Psychrometrics, SaturationRisesThroughTheTriplePoint) {
  for (double t = -100; t < 200; t += 0.25) EXPECT_LT(es(t), es(t + 0.25)) << t;
}

class Occupancy : public testing::TestWithParam<std::pair<std::string, std::size_t>> {};
INSTANTIATE_TEST_SUITE_P(Files, Occupancy,
                         testing::Values(std::pair{"datatraining.txt", std::size_t{8143}},
                                         std::pair{"datatest.txt", std::size_t{2665}}));

// The files' ratio uses 0.62197 for the ratio of the molar masses, ours 0.621945.
TEST_P(Occupancy, HumidityRatioOfEveryRow) {
  const auto rows = read_occupancy(GetParam().first);
  if (rows.empty()) GTEST_SKIP() << kNoOccupancy;
  ASSERT_EQ(rows.size(), GetParam().second);
  double worst = 0, worst_rescaled = 0;
  for (const OccupancyRow& row : rows) {
    const double w = humidity_ratio({row.temperature_c}, {row.humidity_pct});
    worst = std::max(worst, std::fabs(w / row.humidity_ratio - 1));
    worst_rescaled =
        std::max(worst_rescaled, std::fabs(w * (0.62197 / 0.621945) / row.humidity_ratio - 1));
  }
  EXPECT_LT(worst_rescaled, 1.8e-6);
  EXPECT_LT(worst, 4.3e-5);
}

}  // namespace
}  // namespace tubwarden
