// What goes in is inside or has gone out, and the answer does not hang on how finely time is cut.

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "rehearsal/model.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr Load kLoads[] = {Load::empty, Load::pinning, Load::flush};

void expect_conserved(const Book& book, const char* what) {
  const double lost = book.inside_now - book.inside_then - book.net;
  EXPECT_LE(std::fabs(lost), 1e-6 * book.summed) << what;
}

/// A day with everything on, in turns and together; the lid opens twice.
Drive busy_day(int minute) {
  Drive drive;
  drive.mist_g_h = minute % 7 == 0 ? 60.0 : 0.0;
  drive.fan_m3_h = minute % 15 < 3 ? 2.0 : 0.0;
  drive.fan = minute % 15 < 3;
  drive.stir = minute % 4 == 0;
  drive.heat_air_w = minute % 90 < 20 ? 12.0 : 0.0;
  drive.heat_substrate_w = minute % 60 < 30 ? 8.0 : 0.0;
  drive.cool_w = minute % 120 < 15 ? 20.0 : 0.0;
  drive.lamp_w = minute < 720 ? 3.0 : 0.0;
  drive.dry_g_h = minute % 200 < 10 ? 15.0 : 0.0;
  drive.lid_open = minute == 300 || minute == 1000;
  return drive;
}

void run_day(ChamberModel& model, const std::function<void(int)>& each_minute = {}) {
  for (int minute = 0; minute < 24 * 60; ++minute) {
    Drive drive = busy_day(minute);
    const bool mists = drive.mist_g_h > 0.0;
    model.drive(drive);
    model.advance(mists ? milliseconds(5500) : milliseconds(60000));
    if (mists) {
      drive.mist_g_h = 0.0;
      model.drive(drive);
      model.advance(milliseconds(54500));
    }
    if (each_minute) each_minute(minute);
  }
}

TEST(Conserving, WaterCo2AndHeatOverADayWithAllSourcesOn) {
  for (Load load : kLoads) {
    SCOPED_TRACE(name_of(load));
    ChamberModel model(parameters_of(load, 40.0), {}, {});
    run_day(model);
    const Books books = model.books();
    expect_conserved(books.water_g, "water");
    expect_conserved(books.co2_g, "CO2");
    expect_conserved(books.heat_j, "heat");
    EXPECT_GT(books.water_g.summed, 100.0) << "the day moved too little to tell";
    EXPECT_GT(books.heat_j.summed, 1e6);
    EXPECT_GT(books.co2_g.summed, 1.0);
  }
}

ModelParameters sealed(Load load) {
  ModelParameters p = parameters_of(load, 60.0);
  p.tub.leak_per_h = 0.0;
  p.tub.wall_outside_w_m2k = 0.0;
  p.crop.substrate_to_room_w_k = 0.0;
  return p;
}

TEST(Conserving, ASealedTubGainsExactlyWhatIsPutIn) {
  ModelParameters p = sealed(Load::pinning);
  p.crop.substrate_co2_g_kgh = 0.0;
  p.fog.water_c = 0.0;  // water at 0 C carries no enthalpy in the book
  ChamberModel model(p, {}, {});
  model.drive({.mist_g_h = 36.0, .heat_air_w = 10.0});
  model.advance(seconds(600));
  model.drive({});
  model.advance(hours(3));
  const Books books = model.books();
  EXPECT_NEAR(books.water_g.inside_now - books.water_g.inside_then, 6.0, 1e-6);
  EXPECT_NEAR(books.heat_j.inside_now - books.heat_j.inside_then, 6000.0, 0.01);
  EXPECT_NEAR(books.co2_g.inside_now, books.co2_g.inside_then, 1e-12);
}

TEST(Conserving, WhatTheCropBurnsIsHeatWaterAndCo2InTheirProportion) {
  // 10.62 kJ and 0.409 g of water a gram of CO2: glucose, docs/model.md.
  ChamberModel model(sealed(Load::flush), {}, {});
  model.advance(hours(6));
  const Books books = model.books();
  const double burnt = books.co2_g.inside_now - books.co2_g.inside_then;
  EXPECT_GT(burnt, 3.0);
  EXPECT_NEAR((books.water_g.inside_now - books.water_g.inside_then) / burnt, 0.409, 1e-6);
  const double heat = (books.heat_j.inside_now - books.heat_j.inside_then) / burnt;
  EXPECT_NEAR(heat, 10620.0, 50.0) << "with the made water's own warmth";
}

TEST(Conserving, HalvingTheStepChangesNothingThatASensorCouldTell) {
  for (Load load : kLoads) {
    SCOPED_TRACE(name_of(load));
    const ModelParameters p = parameters_of(load, 40.0);
    ChamberModel coarse(p, {}, {}, {1.0, 0.5});
    ChamberModel fine(p, {}, {}, {0.5, 0.25});
    double rh = 0.0, celsius = 0.0, co2 = 0.0;
    std::vector<TrueAir> seen;
    run_day(coarse, [&](int) { seen.push_back(coarse.air()); });
    run_day(fine, [&](int minute) {
      const TrueAir a = seen[static_cast<std::size_t>(minute)];
      const TrueAir b = fine.air();
      rh = std::max(rh, std::fabs(a.humidity_pct - b.humidity_pct));
      celsius = std::max(celsius, std::fabs(a.celsius - b.celsius));
      celsius = std::max(celsius, std::fabs(a.substrate_c - b.substrate_c));
      co2 = std::max(co2, std::fabs(a.co2_ppm - b.co2_ppm));
    });
    EXPECT_LT(rh, 0.1);
    EXPECT_LT(celsius, 0.02);
    EXPECT_LT(co2, 5.0);
    RecordProperty(std::string(name_of(load)) + "_rh_pct", std::to_string(rh));
  }
}

TEST(Conserving, StaysFiniteAndPositiveUnderAFloodOfMistInASmallDryTub) {
  ChamberModel model(parameters_of(Load::empty, 5.0), {.humidity_pct = 10.0},
                     {.celsius = 30.0, .humidity_pct = 5.0});
  for (int i = 0; i < 600; ++i) {
    model.drive({.mist_g_h = i % 20 == 0 ? 2000.0 : 0.0, .fan_m3_h = i % 5 == 0 ? 5.0 : 0.0});
    model.advance(milliseconds(730));
    const TrueAir air = model.air();
    ASSERT_GE(air.fog_g, 0.0);
    ASSERT_GT(air.vapour_g, 0.0);
    ASSERT_LT(air.humidity_pct, 115.0);
    ASSERT_GT(air.celsius, 5.0);
    ASSERT_LT(air.celsius, 35.0);
  }
}

}  // namespace
}  // namespace tubwarden::rehearsal
