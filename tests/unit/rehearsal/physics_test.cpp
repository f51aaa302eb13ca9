// The model against figures from outside: psychrometrics, dilution, respiration, settling.

#include <gtest/gtest.h>

#include <cmath>

#include "core/air/psychrometrics.hpp"
#include "core/air/ventilation.hpp"
#include "rehearsal/model.hpp"
#include "rehearsal/saturation_table.hpp"

namespace tubwarden::rehearsal {
namespace {

/// Air alone: nothing evaporates, conducts or leaks.
ModelParameters air_alone(double litres) {
  ModelParameters p = parameters_of(Load::empty, litres);
  p.tub.leak_per_h = 0.0;
  p.tub.wall_inside_w_m2k = 0.0;
  p.crop.casing_w_m2k = 0.0;
  return p;
}

TEST(Physics, OneGramIsMoreThanTheWholeRangeIn60LitresAt17C) {
  const ChamberModel model(air_alone(60.0), {}, {.celsius = 17.0, .humidity_pct = 100.0});
  EXPECT_LT(model.air().vapour_g, 1.0);
  EXPECT_NEAR(model.air().vapour_g, 0.869, 0.01) << "60 L of 14.48 g/m3: es(17 C) / (461.5 T)";
}

TEST(Physics, AHundredGramsAnHourMove60LitresByThreePercentASecond) {
  ChamberModel model(air_alone(60.0), {}, {.celsius = 17.0, .humidity_pct = 50.0});
  const double saturated = model.air().vapour_g / 0.5;
  const double before = model.air().vapour_g;
  model.drive({.mist_g_h = 100.0});
  model.advance(seconds(1));
  const TrueAir air = model.air();
  EXPECT_NEAR(100.0 * (air.vapour_g + air.fog_g - before) / saturated, 3.2, 0.1);
}

TEST(Physics, MistCoolsTheAirToItsWetBulb) {
  // psychrolib 1.1.1 (npm): 20 C and 90 % have a wet bulb of 18.864 C.
  ModelParameters p = air_alone(60.0);
  p.fog.water_c = 18.864;
  p.fog.settles_per_s = 0.0;
  ChamberModel model(p, {}, {.celsius = 20.0, .humidity_pct = 90.0});
  model.drive({.mist_g_h = 5.0});
  model.advance(minutes(5));
  const TrueAir air = model.air();
  EXPECT_GT(air.fog_g, 0.0) << "saturated, with fog left over";
  EXPECT_NEAR(air.celsius, 18.864, 0.02);
}

TEST(Physics, Co2DecaysAsAstmE741Says) {
  // 2000 -> 1000 ppm over 400 in half an hour is 1.9617 changes an hour: ASTM E741's decay,
  // computed in trade values section 5.
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 1.9617;
  ChamberModel model(p, {.co2_ppm = 400.0}, {.co2_ppm = 2000.0});
  model.advance(minutes(30));
  EXPECT_NEAR(model.truth(Quantity::co2), 1000.0, 0.1);
  model.advance(minutes(60));
  const Ppm expected = co2_after(Ppm{2000.0}, Ppm{400.0}, PerHour{1.9617}, minutes(90));
  EXPECT_NEAR(model.truth(Quantity::co2), expected.value, 0.1);
}

TEST(Physics, AFansChangesAreItsFlowOverTheNetAir) {
  ModelParameters p = parameters_of(Load::empty, 40.0);
  p.tub.leak_per_h = 0.0;
  ChamberModel model(p, {.co2_ppm = 420.0}, {.co2_ppm = 5000.0});
  model.drive({.fan_m3_h = 2.0, .fan = true});
  model.advance(minutes(3));
  const Ppm expected = co2_after(Ppm{5000.0}, Ppm{420.0}, PerHour{50.0}, minutes(3));
  EXPECT_NEAR(model.truth(Quantity::co2), expected.value, 1.0);
}

TEST(Physics, AFullFlushBreathesTenThousandPpmAnHourInto40Litres) {
  // 5 kg at 0.045 g/(kg h) and 0.5 kg at 1.056 g/(kg h), 16 C: 0.753 g/h, 0.406 L/h (trade values
  // section 5).
  ModelParameters p = parameters_of(Load::flush, 40.0);
  p.tub.leak_per_h = 0.0;
  p.crop.q10 = 1.0;
  ChamberModel model(p, {.mean_c = 16.0, .swing_c = 0.0}, {.celsius = 16.0});
  EXPECT_NEAR(model.air().co2_g_h, 0.753, 0.001);
  const double before = model.truth(Quantity::co2);
  model.advance(hours(1));
  EXPECT_NEAR(model.truth(Quantity::co2) - before, 0.406 / 40.0 * 1e6, 300.0);
}

TEST(Physics, TheCropBreathesByItsQ10) {
  const ModelParameters p = parameters_of(Load::flush, 40.0);
  const ChamberModel cold(p, {}, {.celsius = 16.0});
  const ChamberModel warm(p, {}, {.celsius = 26.0});
  EXPECT_NEAR(warm.air().co2_g_h / cold.air().co2_g_h, p.crop.q10, 1e-3);
}

TEST(Physics, FogSettlesInSaturatedAir) {
  ModelParameters p = air_alone(60.0);
  p.fog.settles_per_s = 0.02;
  p.fog.water_c = 17.0;
  ChamberModel model(p, {}, {.celsius = 17.0, .humidity_pct = 100.0});
  model.drive({.mist_g_h = 100.0});
  model.advance(seconds(60));
  model.drive({});
  model.advance(seconds(10));
  const double fog = model.air().fog_g;
  const double film = model.air().film_g;
  model.advance(from_seconds(std::log(2.0) / 0.02));
  EXPECT_NEAR(model.air().fog_g / fog, 0.5, 0.01);
  EXPECT_NEAR(model.air().film_g - film, fog / 2.0, 0.02 * fog);
}

TEST(Physics, FogEvaporatesFasterInDrierAir) {
  const auto left_after = [](double humidity) {
    ModelParameters p = air_alone(600.0);
    p.fog.settles_per_s = 0.0;
    ChamberModel model(p, {}, {.celsius = 17.0, .humidity_pct = humidity});
    model.drive({.mist_g_h = 20.0});
    model.advance(seconds(1));
    const double fog = model.air().fog_g;
    model.drive({});
    model.advance(seconds(4));
    return model.air().fog_g / fog;
  };
  // A droplet's life is 1 s over the deficit: e^-2 is left at 50 % RH, e^-0.4 at 90 %.
  EXPECT_NEAR(left_after(50.0), std::exp(-2.0), 0.01);
  EXPECT_NEAR(left_after(90.0), std::exp(-0.4), 0.01);
}

TEST(Physics, AWetCasingHumidifiesByTheVapourPressureDifferenceAtItsSurface) {
  ModelParameters p = parameters_of(Load::pinning, 60.0);
  p.crop.surface_w_m2k = 1e6;  // surface as warm as the core
  p.crop.substrate_co2_g_kgh = 0.0;
  const auto evaporates = [&](double humidity) {
    ChamberModel model(p, {.mean_c = 17.0, .swing_c = 0.0},
                       {.celsius = 17.0, .humidity_pct = humidity});
    model.advance(milliseconds(100));
    return model.books().casing_evaporated_g;
  };
  // Drives of 0.99 - 0.5 and 0.99 - 0.8 of saturation.
  EXPECT_NEAR(evaporates(50.0) / evaporates(80.0), 0.49 / 0.19, 0.05);
  EXPECT_LT(evaporates(100.0), 0.0) << "above the casing's own vapour pressure it takes water up";
}

TEST(Physics, AWetCasingAloneMakesATubTooWetAndADryOneDoesNot) {
  ModelParameters closed = parameters_of(Load::pinning, 60.0);
  closed.tub.leak_per_h = 0.5;  // a lid without holes
  ChamberModel wet(closed, {}, {});
  ChamberModel dry(parameters_of(Load::empty, 60.0), {}, {});
  wet.advance(hours(24));
  dry.advance(hours(24));
  EXPECT_GT(wet.truth(Quantity::humidity), 95.0);
  EXPECT_LT(dry.truth(Quantity::humidity), 60.0);
}

TEST(Physics, ColdWallsTakeWaterAndGiveItBack) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  ChamberModel model(p, {.mean_c = 12.0, .swing_c = 0.0}, {.celsius = 20.0, .humidity_pct = 95.0});
  model.advance(hours(2));
  const double film = model.air().film_g;
  EXPECT_GT(film, 0.2) << "0.98 g at 20 C, and 12 C holds 0.64 g";
  model.drive({.fan_m3_h = 2.0, .fan = true});
  model.advance(hours(2));
  EXPECT_LT(model.air().film_g, 0.01 * film);
}

TEST(Physics, ASteadyHeaterWarmsByItsPowerOverTheLosses) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  p.crop.casing_w_m2k = 0.0;
  ChamberModel model(p, {.mean_c = 15.0, .swing_c = 0.0}, {.celsius = 15.0, .humidity_pct = 40.0});
  model.drive({.heat_air_w = 10.0});
  model.advance(hours(12));
  const double losses = 1.0 / (1.0 / (4.0 * 0.9) + 1.0 / (6.0 * 0.9));
  EXPECT_NEAR(model.truth(Quantity::air_temperature) - 15.0, 10.0 / losses, 0.01);
}

TEST(Physics, SubstrateAnswersOverHoursAndRunsAboveItsAir) {
  ModelParameters p = parameters_of(Load::flush, 40.0);
  ChamberModel model(p, {.mean_c = 17.0, .swing_c = 0.0}, {.celsius = 17.0, .humidity_pct = 90.0});
  model.advance(hours(48));
  const TrueAir air = model.air();
  EXPECT_GT(air.substrate_c - air.celsius, 0.3);
  EXPECT_LT(air.substrate_c - air.celsius, 3.0);
  model.drive({.heat_substrate_w = 15.0});
  model.advance(minutes(10));
  EXPECT_LT(model.air().substrate_c - air.substrate_c, 0.6);
  model.advance(hours(6));
  EXPECT_GT(model.air().substrate_c - air.substrate_c, 2.0);
}

TEST(Physics, AnOpenLidMakesTheAirTheRooms) {
  ChamberModel model(parameters_of(Load::empty, 60.0), {.mean_c = 20.0, .swing_c = 0.0},
                     {.celsius = 17.0, .humidity_pct = 95.0, .co2_ppm = 8000.0});
  model.drive({.lid_open = true});
  model.advance(minutes(2));
  EXPECT_NEAR(model.truth(Quantity::co2), 420.0, 1.0);
  EXPECT_NEAR(model.truth(Quantity::humidity), 50.0, 3.0);
}

TEST(Physics, ADryerTakesWaterAndLeavesItsHeat) {
  ModelParameters p = air_alone(60.0);
  ChamberModel model(p, {}, {.celsius = 17.0, .humidity_pct = 95.0});
  model.drive({.dry_g_h = 5.0});
  model.advance(minutes(2));
  EXPECT_LT(model.truth(Quantity::humidity), 85.0);
  EXPECT_GT(model.truth(Quantity::air_temperature), 17.5);
}

TEST(Physics, TheRoomsHumidityFollowsItsTemperatureAtOneHumidityRatio) {
  const RoomDay day{.mean_c = 20.0, .swing_c = 3.0, .warmest_h = 15.0, .humidity_pct = 50.0};
  ChamberModel model(parameters_of(Load::empty, 60.0), day, {.second_of_day = 0.0});
  model.advance(hours(3));  // the coldest hour
  EXPECT_NEAR(model.room_celsius(), 17.0, 0.001);
  // W(20 C, 50 %) = 7.262 g/kg (trade values 3.3); at 17 C that is 1169.4 / 1937.95 Pa.
  EXPECT_NEAR(model.room_humidity_pct(), 100.0 * 1169.4 / 1937.95, 0.05);
  model.advance(hours(12));
  EXPECT_NEAR(model.room_celsius(), 23.0, 0.001);
  EXPECT_LT(model.room_humidity_pct(), 43.0);
}

TEST(Physics, ARoomCannotHoldMoreThanItsColdestHourCan) {
  ChamberModel model(parameters_of(Load::empty, 60.0),
                     {.mean_c = 20.0, .swing_c = 5.0, .humidity_pct = 95.0},
                     {.second_of_day = 3 * 3600.0});
  EXPECT_NEAR(model.room_humidity_pct(), 100.0, 0.01);
}

TEST(SaturationTable, IsTheFormulaWithinAHundredThousandth) {
  const SaturationTable table(2.0, 16.0);
  for (double t = 0.5; t < 60.0; t += 0.0137) {
    const double exact = saturation_pressure(Celsius{t}).value;
    ASSERT_NEAR(table.at(t).pressure, exact, 1e-5 * exact) << t;
    ASSERT_NEAR(table.at(t).vigour, std::pow(2.0, (t - 16.0) / 10.0), 1e-3) << t;
  }
}

TEST(SaturationTable, GoesOnBeyondItsEnds) {
  const SaturationTable table(2.0, 16.0);
  EXPECT_TRUE(std::isfinite(table.at(-60.0).pressure));
  EXPECT_GT(table.at(90.0).pressure, table.at(69.0).pressure);
}

}  // namespace
}  // namespace tubwarden::rehearsal
