// The sums of heat and of bands, computed by hand from the model's assumed figures.
#include "core/fit/heat.hpp"

#include <gtest/gtest.h>

#include "core/fit/band.hpp"
#include "rehearsal/model.hpp"

namespace tubwarden::fit {
namespace {

TEST(Loss, IsWallsLeakAndBottom) {
  // 0.9 m2 x 2.4 W/(m2 K) (4 and 6 in series) + 3.5/h x 0.06 m3 x 1207.2 J/(m3 K) / 3600 s
  // = 2.16 + 0.0704, and 0.8 W/K through the bottom.
  EXPECT_NEAR(loss_w_k({60.0}, 0), 2.2304, 0.0001);
  EXPECT_NEAR(loss_w_k({60.0}, 1), 3.0304, 0.0001);
  EXPECT_NEAR(loss_w_k({60.0}, 4), 2.2304 + 3.2, 0.0001);
}

TEST(Loss, GrowsWithTheWalls) {
  // Eight times the volume has four times the walls, and eight times the leak.
  EXPECT_NEAR(loss_w_k({480.0}, 0), 4 * 2.16 + 8 * 0.0704, 0.001);
}

TEST(MatRise, GoesThroughBottomAndWetSurface) {
  // 5 kg, 0.125 m2: 16.6 and 20 W/(m2 K) in series are 9.071, so 1.134 W/K; 40 L have 0.6868 m2:
  // 1.648 + 0.047 = 1.695 W/K; both in series 0.679, with the bottom 1.479 W/K.
  const MatRise rise = mat_rise(15.0, {40.0}, 5.0);
  EXPECT_NEAR(rise.substrate, 15.0 / 1.479, 0.01);
  // 6.89 W go through the surface: over 6 x 0.6868 W/K of outer wall 1.672 K, and 4 / 16.6 of them
  // over 4 x 0.6868 W/K 0.604 K.
  EXPECT_NEAR(rise.air, 2.276, 0.01);
  EXPECT_NEAR(mat_rise(30.0, {40.0}, 5.0).air, 2 * rise.air, 1e-9);
}

TEST(MatRise, IsWhatTheModelSays) {
  for (const double kg : {5.0, 10.0}) {
    auto tub = rehearsal::parameters_of(rehearsal::Load::pinning, 40.0, kg);
    tub.crop.substrate_co2_g_kgh = 0.0;  // no heat of its own
    rehearsal::ChamberModel model(tub, {.mean_c = 12.0, .swing_c = 0.0}, {.celsius = 15.0});
    model.drive({.heat_substrate_w = 15.0});
    model.advance(hours(36));
    const MatRise rise = mat_rise(15.0, {40.0}, kg);
    EXPECT_NEAR(rise.substrate / (model.air().substrate_c - 12.0), 1.0, 0.15) << kg;
    EXPECT_NEAR(rise.air / (model.air().celsius - 12.0), 1.0, 0.15) << kg;
  }
}

TEST(Loss, IsWhatTheModelSaysOfAnEmptyTub) {
  // There a tenth of the wall is a bare bottom, which adds a little.
  rehearsal::ChamberModel model(rehearsal::parameters_of(rehearsal::Load::empty, 60.0),
                                {.mean_c = 15.0, .swing_c = 0.0}, {.celsius = 15.0});
  model.drive({.heat_air_w = 15.0});
  model.advance(hours(24));
  EXPECT_NEAR(15.0 / loss_w_k({60.0}, 0) / (model.air().celsius - 15.0), 1.0, 0.1);
}

TEST(Loss, HasTheModelsFigures) {
  const auto model = rehearsal::parameters_of(rehearsal::Load::pinning, 60.0, 5.0);
  EXPECT_DOUBLE_EQ(model.tub.wall_m2, kWallM2At60L);
  EXPECT_DOUBLE_EQ(model.tub.wall_inside_w_m2k, kWallInsideWM2K);
  EXPECT_DOUBLE_EQ(model.tub.wall_outside_w_m2k, kWallOutsideWM2K);
  EXPECT_DOUBLE_EQ(model.tub.leak_per_h, kLeakPerHour);
  EXPECT_DOUBLE_EQ(model.crop.substrate_to_room_w_k, kSubstrateToRoomWK);
  EXPECT_DOUBLE_EQ(model.crop.surface_w_m2k, kCoreToSurfaceWM2K);
}

TEST(Telling, NeedsABandOfTwiceTheAccuracy) {
  EXPECT_EQ(telling({85.0, 90.0}, 2.0), Telling::tells);
  EXPECT_EQ(telling({85.0, 90.0}, 2.5), Telling::tells);
  EXPECT_EQ(telling({85.0, 90.0}, 2.6), Telling::doubtful);
  EXPECT_EQ(telling({85.0, 90.0}, 5.0), Telling::doubtful);
  EXPECT_EQ(telling({85.0, 90.0}, 5.1), Telling::blind);
  // 25.5 - 24 and twice 0.75 differ in the last bit.
  EXPECT_EQ(telling({24.0, 25.5}, 0.75), Telling::tells);
}

TEST(CeilingOver, LocksWhereTheMiddleIsNeverReached) {
  EXPECT_EQ(ceiling_over({24.0, 25.5}, 26.5), Ceiling::clear);
  EXPECT_EQ(ceiling_over({24.0, 25.5}, 25.5), Ceiling::clear);
  EXPECT_EQ(ceiling_over({24.0, 25.5}, 25.0), Ceiling::above_middle);
  EXPECT_EQ(ceiling_over({24.0, 25.5}, 24.75), Ceiling::locks);
  EXPECT_EQ(ceiling_over({24.0, 25.5}, 20.0), Ceiling::locks);
}

}  // namespace
}  // namespace tubwarden::fit
