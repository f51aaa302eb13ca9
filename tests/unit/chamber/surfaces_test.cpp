// Dew, wet surfaces and the drying window.
#include "rig.hpp"

namespace tubwarden {
namespace {

Rig::Change cropping(const Rig::Change& more = {}) {
  return [more](Plans& p) {
    p.keep("fruiting", Quantity::humidity, 85.0, 90.0);
    p.room_is(20.0, 45.0);
    p.never_stale();
    if (more) more(p);
  };
}

void read(Rig& rig, double humidity, double celsius = 17.0) {
  rig.air(celsius);
  rig.humidity(humidity);
}

TEST(Dew, HoldsMistBackWhereTheBedIsBelowTheDewPoint) {
  Rig rig(cropping());
  rig.start("fruiting").wait(minutes(2));
  rig.substrate(17.0);
  read(rig, 84.0);
  EXPECT_TRUE(rig.runs(mister));
  rig.wait(minutes(1));
  rig.substrate(14.0);  // the dew point of 17 C and 84 % is 14.3 C
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("the bed has 14 C, and the air's dew point 14.3 C"),
            std::string::npos)
      << rig.why(mister);
  rig.wait(minutes(2));
  rig.substrate(14.7);
  EXPECT_FALSE(rig.runs(mister)) << "half a degree apart";
  rig.substrate(14.9);
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Dew, CallsTheFanWhereTheRoomIsDrier) {
  Rig rig(cropping());
  rig.start("fruiting").wait(minutes(5));
  rig.substrate(14.0);
  read(rig, 87.0);
  EXPECT_TRUE(rig.runs(fan)) << rig.why(fan);
  Rig damp(cropping([](Plans& p) { p.room_is(24.0, 80.0); }));
  damp.start("fruiting").wait(minutes(5));
  damp.substrate(14.0);
  read(damp, 87.0);
  EXPECT_FALSE(damp.runs(fan));
}

TEST(Dew, ACoolLidLeavesTheBandsLowerEdgeKept) {
  Rig rig(cropping([](Plans& p) { p.room_is(8.0, 60.0); }));
  rig.start("fruiting").wait(minutes(2));
  read(rig, 84.0);
  EXPECT_TRUE(rig.runs(mister));
  rig.wait(minutes(1));
  read(rig, 86.5);
  EXPECT_FALSE(rig.runs(mister)) << "it would have gone on to the middle";
  EXPECT_NE(rig.why(mister).find("the lid is reckoned to have"), std::string::npos);
}

TEST(WetSurfaces, AreToldOnceTheyCouldNotDryForSoLong) {
  Rig rig(cropping([](Plans& p) { p.phase("fruiting").surface_wet_warn = hours(4); }));
  rig.start("fruiting");
  read(rig, 96.0);
  rig.wait(hours(3)).alerts();
  rig.wait(hours(2));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.surface_wet"});
  EXPECT_NE(rig.alerts_text().find("wet caps blotch"), std::string::npos);
  for (int i = 0; i < 24; ++i) {
    read(rig, 75.0);
    rig.wait(minutes(5));
  }
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.surface_wet"});
}

TEST(WetSurfaces, AreNotToldWithoutABound) {
  Rig rig(cropping());
  rig.start("fruiting");
  read(rig, 96.0);
  rig.wait(hours(12));
  EXPECT_EQ(rig.alerts_text().find("wet caps"), std::string::npos);
}

Rig::Change drying(const Rig::Change& more = {}) {
  return cropping([more](Plans& p) {
    p.phase("fruiting").dry_after_watering = hours(2);
    if (more) more(p);
  });
}

TEST(DryingWindow, RestsTheMisterAndBlowsGently) {
  Rig rig(drying());
  rig.start("fruiting").wait(minutes(2));
  read(rig, 84.0);
  EXPECT_TRUE(rig.runs(mister));
  rig.wait(minutes(1));
  rig.step(event::Watered{"tub-1", 200.0});
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("the surfaces dry after the watering"), std::string::npos);
  int blown = 0;
  for (int s = 0; s < 1800; s += 5) {
    rig.wait(seconds(5));
    if (s % 30 == 0) read(rig, 84.0);
    blown += rig.runs(fan) ? 1 : 0;
  }
  EXPECT_GT(blown, 50);
  EXPECT_LT(blown, 140);
  ASSERT_TRUE(rig.chamber().surfaces(rig.now).dries_for);
  EXPECT_NEAR(seconds_of(*rig.chamber().surfaces(rig.now).dries_for), 5400.0, 10.0);
}

TEST(DryingWindow, EndsByItself) {
  Rig rig(drying());
  rig.start("fruiting").wait(minutes(2));
  read(rig, 91.0);
  rig.step(event::Watered{"tub-1", 200.0});
  rig.wait(hours(2) - minutes(1));
  EXPECT_TRUE(rig.chamber().surfaces(rig.now).dries_for);
  rig.wait(minutes(2));
  EXPECT_FALSE(rig.chamber().surfaces(rig.now).dries_for);
  read(rig, 84.0);
  EXPECT_TRUE(rig.runs(mister)) << rig.why(mister);
}

TEST(DryingWindow, EndsSoonerWhereTheSurfacesAreDry) {
  Rig rig(drying([](Plans& p) { p.phase("fruiting").dry_after_watering = hours(12); }));
  rig.start("fruiting").wait(minutes(2));
  rig.step(event::Watered{"tub-1", 200.0});
  for (int i = 0; i < 12 * 5; ++i) {
    read(rig, 72.0);
    rig.wait(minutes(5));
  }
  EXPECT_FALSE(rig.chamber().surfaces(rig.now).dries_for);
  EXPECT_FALSE(rig.chamber().surfaces(rig.now).wet_for);
}

TEST(DryingWindow, DoesNotBlowTheAirFarBelowItsBandNorWithTheRoomsWetAir) {
  Rig rig(drying());
  rig.start("fruiting").wait(minutes(5));
  rig.step(event::Watered{"tub-1", 200.0});
  rig.wait(minutes(1));
  read(rig, 78.0);
  rig.wait(minutes(1));
  read(rig, 78.0);
  for (int s = 0; s < 120; s += 5) {
    rig.wait(seconds(5));
    EXPECT_FALSE(rig.runs(fan)) << rig.why(fan);
  }
}

TEST(DryingWindow, GoesOnAfterARestartForTheRestOfItsTime) {
  Rig before(drying());
  before.start("fruiting");
  read(before, 88.0);
  before.step(event::Watered{"tub-1", 200.0});
  before.wait(minutes(30));
  before.step(event::Tick{});
  Rig after(drying());
  after.step(event::BookKnown{std::make_shared<const WaterBookState>(before.chamber().book()),
                              minutes(10)});
  after.start("fruiting");
  ASSERT_TRUE(after.chamber().surfaces(after.now).dries_for);
  EXPECT_NEAR(seconds_of(*after.chamber().surfaces(after.now).dries_for), 80 * 60.0, 5.0);
}

}  // namespace
}  // namespace tubwarden
