// The sums of heat and of bands, computed by hand from the model's assumed figures.
#include "core/fit/heat.hpp"

#include <gtest/gtest.h>

#include "core/fit/band.hpp"
#include "rehearsal/parameters.hpp"

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

TEST(Loss, HasTheModelsFigures) {
  const auto model = rehearsal::parameters_of(rehearsal::Load::pinning, 60.0, 5.0);
  EXPECT_DOUBLE_EQ(model.tub.wall_m2, kWallM2At60L);
  EXPECT_DOUBLE_EQ(model.tub.wall_inside_w_m2k, kWallInsideWM2K);
  EXPECT_DOUBLE_EQ(model.tub.wall_outside_w_m2k, kWallOutsideWM2K);
  EXPECT_DOUBLE_EQ(model.tub.leak_per_h, kLeakPerHour);
  EXPECT_DOUBLE_EQ(model.crop.substrate_to_room_w_k, kSubstrateToRoomWK);
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
