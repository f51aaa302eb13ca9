// Figures the model must meet that do not come from it: psychrometrics, the crop's breath, the
// dilution of a tracer gas.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "core/air/psychrometrics.hpp"
#include "rehearsal/model.hpp"

namespace tubwarden::rehearsal {
namespace {

RoomDay still_room(double celsius, double humidity_pct = 50.0) {
  RoomDay room;
  room.mean_c = celsius;
  room.swing_c = 0.0;
  room.humidity_pct = humidity_pct;
  return room;
}

StartAir air_at(double celsius, double humidity_pct, double co2_ppm = 420.0) {
  return {celsius, humidity_pct, co2_ppm, 0.0};
}

TEST(Anchor, OneGramIsMoreThanTheWholeHumidityRangeOf60LitresAt17C) {
  const ChamberModel model(parameters_of(Load::empty, 60.0), still_room(17.0),
                           air_at(17.0, 100.0));
  // 14.48 g/m3 (ASHRAE formula, trade-values 3.3: 13.03 at 90 %) x 0.06 m3.
  EXPECT_NEAR(model.air().vapour_g, 0.869, 0.002);
  EXPECT_LT(model.air().vapour_g, 1.0);
}

TEST(Anchor, AHundredGramsAnHourMove60LitresBy3point2PercentASecond) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  p.tub.wall_inside_w_m2k = 0.0;
  p.fog.evaporation_s = 0.001;  // at once, so that it is the vapour that is judged
  p.fog.water_c = 17.0;
  StepPlan fine;
  fine.step_s = 0.01;
  ChamberModel model(p, still_room(17.0), air_at(17.0, 50.0), fine);
  Drive drive;
  drive.mist_g_h = 100.0;
  // What evaporating takes out of the air is given back: the figure is of air held at 17 C.
  drive.heat_air_w = 100.0 / 3600.0 * 2461.0;  // J/g at 17 C, ASHRAE 2017: 2501 + 1.86 t - 4.19 t
  model.drive(drive);
  model.advance(seconds(1));
  const double first = model.truth(Quantity::humidity);
  model.advance(seconds(4));
  EXPECT_NEAR((model.truth(Quantity::humidity) - first) / 4.0, 3.2, 0.05);
  EXPECT_NEAR(model.truth(Quantity::air_temperature), 17.0, 0.1);
}

TEST(Anchor, AFullFlushBreathesFourTenthsOfALitreAnHour) {
  ModelParameters p = parameters_of(Load::flush, 40.0, 5.0);
  p.tub.leak_per_h = 0.0;
  ChamberModel model(p, still_room(16.0), air_at(16.0, 90.0));
  // trade-values section 5: 5 kg at 0.045 g/(kg h) and 0.5 kg at 1.056 g/(kg h) make 0.753 g/h at
  // 16 C, 0.406 L/h at 1.8548 g/L; in 40 L that is 10,150 ppm an hour.
  EXPECT_NEAR(model.air().co2_g_h, 0.753, 0.002);
  EXPECT_NEAR(model.air().co2_g_h / 1.8548, 0.406, 0.002);
  model.advance(hours(1));
  EXPECT_NEAR(model.truth(Quantity::co2) - 420.0, 10150.0, 500.0);
}

TEST(Anchor, WorkingSubstrateWarmsByItsBreath) {
  ModelParameters p = parameters_of(Load::pinning, 60.0, 5.0);
  p.crop.casing_m2 = 0.0;  // nothing evaporates, nothing is lost
  p.crop.casing_water_g = 0.0;
  p.crop.substrate_to_room_w_k = 0.0;
  ChamberModel model(p, still_room(16.0), air_at(16.0, 90.0));
  model.advance(minutes(10));
  // 0.225 g/h x 10.62 kJ/g (glucose, trade-values section 5) over 5 kg x 3.3 kJ/(kg K) + 0.6 kJ/K.
  const double expected = 0.225 / 6.0 * 10620.0 / (5.0 * 3300.0 + 600.0);
  EXPECT_NEAR(model.air().substrate_c - 16.0, expected, 0.02 * expected);
}

TEST(Anchor, Co2DecaysAsAstmE741Says) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 2.0;
  ChamberModel model(p, still_room(20.0), air_at(20.0, 50.0, 2000.0));
  for (int quarter = 1; quarter <= 8; ++quarter) {
    model.advance(minutes(15));
    const double expected = 420.0 + 1580.0 * std::exp(-2.0 * quarter / 4.0);
    EXPECT_NEAR(model.truth(Quantity::co2), expected, 0.01) << quarter;
  }
}

TEST(Anchor, AFanChangesTheAirByItsFlow) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 0.0;
  ChamberModel model(p, still_room(20.0), air_at(20.0, 50.0, 2000.0));
  Drive drive;
  drive.fan_m3_h = 2.0;
  drive.fan = true;
  model.drive(drive);
  model.advance(seconds(108));  // one air change: 60 L at 2 m3/h
  EXPECT_NEAR(model.truth(Quantity::co2), 420.0 + 1580.0 / std::numbers::e, 0.5);
}

TEST(Anchor, ASensorLagsByItsTime) {
  ModelParameters p = parameters_of(Load::empty, 60.0);
  p.tub.leak_per_h = 30.0;
  const double lag_s = p.sensors[index_of(Quantity::co2)].lag_s;
  ChamberModel model(p, still_room(20.0), air_at(20.0, 50.0, 2000.0));
  // A decay through a first-order lag: y = Cb + (C0 - Cb)(e^(-At) - A T e^(-t/T)) / (1 - A T).
  const double a = 30.0 / 3600.0;
  for (int t = 30; t <= 300; t += 30) {
    model.advance(seconds(30));
    const double share =
        (std::exp(-a * t) - a * lag_s * std::exp(-t / lag_s)) / (1.0 - a * lag_s);
    EXPECT_NEAR(model.lagged(Quantity::co2), 420.0 + 1580.0 * share, 0.5) << t;
  }
}

TEST(Anchor, TheRoomHasItsDayAndKeepsItsWater) {
  RoomDay room;
  StartAir start = air_at(18.0, 70.0);
  start.second_of_day = room.warmest_h * 3600.0;
  ChamberModel model(parameters_of(Load::empty, 60.0), room, start);
  EXPECT_NEAR(model.room_celsius(), room.mean_c + room.swing_c, 0.01);
  const double warm =
      humidity_ratio(Celsius{model.room_celsius()}, Percent{model.room_humidity_pct()});
  model.advance(hours(12));
  EXPECT_NEAR(model.room_celsius(), room.mean_c - room.swing_c, 0.01);
  const double cold =
      humidity_ratio(Celsius{model.room_celsius()}, Percent{model.room_humidity_pct()});
  EXPECT_NEAR(warm, cold, 1e-9);
  EXPECT_NEAR(warm, humidity_ratio(Celsius{room.mean_c}, Percent{room.humidity_pct}), 1e-9);
}

TEST(Anchor, AWetCasingIsTheHumidifierOfAClosedTub) {
  ChamberModel empty(parameters_of(Load::empty, 60.0), still_room(20.0), air_at(20.0, 50.0));
  ChamberModel wet(parameters_of(Load::pinning, 60.0), still_room(20.0), air_at(20.0, 50.0));
  empty.advance(hours(2));
  wet.advance(hours(2));
  EXPECT_NEAR(empty.truth(Quantity::humidity), 50.0, 0.5);
  EXPECT_GT(wet.truth(Quantity::humidity), 90.0);
  EXPECT_LT(wet.air().surface_c, wet.air().substrate_c) << "evaporating cools the surface";
}

TEST(Anchor, AnOpenLidBringsTheRoomIn) {
  ChamberModel model(parameters_of(Load::pinning, 60.0), still_room(20.0), air_at(20.0, 95.0));
  model.advance(hours(1));
  Drive drive;
  drive.lid_open = true;
  model.drive(drive);
  model.advance(minutes(2));
  EXPECT_LT(model.truth(Quantity::humidity), 60.0);
}

}  // namespace
}  // namespace tubwarden::rehearsal
