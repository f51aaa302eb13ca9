// The water book of a chamber: which flows it counts, what it says is missing, and what survives.
#include <cmath>

#include "core/chamber/water.hpp"
#include "rig.hpp"

namespace tubwarden {
namespace {

/// A fruiting tub in a room of 20 C and 50 %, 17 C and 90 % inside.
Rig::Change measured(const Rig::Change& more = {}) {
  return [more](Plans& p) {
    p.room_is(20.0, 50.0);
    p.never_stale();
    p.part(mister).rate = 40.0;
    p.part(dryer).rate = 20.0;
    p.part(mat).rate = 15.0;
    p.part(mister).tank_ml = 2000.0;
    if (more) more(p);
  };
}

void read(Rig& rig) {
  rig.air(17.0);
  rig.humidity(90.0);
}

constexpr MoistAir kInside{Celsius{17}, Percent{90}};
constexpr MoistAir kAround{Celsius{20}, Percent{50}};

TEST(ChamberWater, CountsTheLeakAndTheFan) {
  Rig rig(measured([](Plans& p) { p.chamber.leak_per_h = 2.0; }));
  rig.start("fruiting");
  read(rig);
  const double a_m3 = taken_g_m3(kInside, kAround);
  rig.wait(hours(2));
  ASSERT_EQ(rig.chamber().water().casings.size(), 1u);
  EXPECT_FALSE(rig.chamber().water().leak_assumed);
  const WaterAccount still = rig.chamber().water().casings[0].account;
  EXPECT_NEAR(still.leak_g, 2 * 2.0 * 0.040 * a_m3, 0.01 * still.leak_g);
  EXPECT_EQ(still.fan_g, 0.0);
  EXPECT_NEAR(seconds_of(still.covered), 7200.0, 300.0);

  Hand keep;
  keep.kind = HandKind::keep_at;
  keep.actuator = "fan";
  keep.level = kRun;
  keep.until = rig.now + minutes(30);
  rig.step(event::HandOn{keep});
  rig.wait(hours(1));
  const WaterAccount blown = rig.chamber().water().casings[0].account;
  EXPECT_NEAR(blown.fan_g, 0.5 * 2.0 * a_m3, 0.02 * blown.fan_g);
}

TEST(ChamberWater, TakesTheMistOffTheAccount) {
  Rig rig(measured());
  rig.start("fruiting");
  read(rig);
  Hand keep;
  keep.kind = HandKind::keep_at;
  keep.actuator = "mister";
  keep.level = kRun;
  keep.until = rig.now + minutes(30);
  rig.step(event::HandOn{keep});
  rig.wait(hours(1));
  const WaterView view = rig.chamber().water();
  EXPECT_TRUE(view.leak_assumed);
  ASSERT_EQ(view.casings.size(), 1u);
  EXPECT_NEAR(view.casings[0].account.mist_g, 20.0, 0.5);
  EXPECT_LT(view.casings[0].account.gave_g, 0.0);
  EXPECT_NEAR(view.day_mist_g, 20.0, 0.5);
  EXPECT_FALSE(view.tanks.at(0).left_ml) << "nobody has said that it is full";
  rig.step(event::Refilled{"mister"});
  EXPECT_NEAR(*rig.chamber().water().tanks.at(0).left_ml, 2000.0, 1e-6);
}

TEST(ChamberWater, SaysHowLongATankLasts) {
  Rig rig(measured());
  rig.start("fruiting");
  rig.step(event::Refilled{"mister"});
  read(rig);
  for (int i = 0; i < 6; ++i) {
    Hand keep;
    keep.kind = HandKind::keep_at;
    keep.actuator = "mister";
    keep.level = kRun;
    keep.until = rig.now + minutes(15);
    rig.step(event::HandOn{keep});
    rig.wait(hours(1));
  }
  const TankView tank = rig.chamber().water().tanks.at(0);
  EXPECT_NEAR(*tank.left_ml, 2000.0 - 60.0, 1.0);
  ASSERT_TRUE(tank.lasts);
  EXPECT_NEAR(seconds_of(*tank.lasts) / 3600.0, 194.0, 4.0);
}

TEST(ChamberWater, NamesWhatIsMissing) {
  Rig rig([](Plans& p) { p.room.temperature.fixed = 20.0; });
  rig.start("fruiting");
  read(rig);
  rig.wait(hours(1));
  const WaterView view = rig.chamber().water();
  EXPECT_EQ(view.missing, (std::vector<std::string>{"the room's humidity", "the rate of mister",
                                                    "the rate of dryer"}));
  ASSERT_EQ(view.casings.size(), 1u);
  EXPECT_EQ(view.casings[0].account.covered, Duration{0});
  EXPECT_NEAR(seconds_of(view.casings[0].account.since), 3600.0, 300.0);
}

TEST(ChamberWater, GivesNoCreditWhileReadingsAreOldOrTheLidIsOff) {
  Rig rig(measured([](Plans& p) {
    for (SensorPlan& s : p.chamber.sensors) s.stale_after = minutes(2);
  }));
  rig.start("fruiting");
  read(rig);
  rig.wait(hours(1));
  const double covered = seconds_of(rig.chamber().water().casings.at(0).account.covered);
  EXPECT_GT(covered, 60.0);
  EXPECT_LT(covered, 140.0);

  Rig attended(measured());
  attended.start("fruiting");
  read(attended);
  Hand hands;
  hands.kind = HandKind::attend;
  hands.until = attended.now + hours(1);
  attended.step(event::HandOn{hands});
  attended.wait(hours(1));
  EXPECT_LT(seconds_of(attended.chamber().water().casings.at(0).account.covered), 30.0);
}

TEST(ChamberWater, CountsFromTheWatering) {
  Rig rig(measured());
  rig.start("fruiting");
  read(rig);
  rig.wait(hours(5));
  rig.step(event::Watered{"tub-1", 200.0});
  rig.step(event::Watered{"tub-9", 999.0});
  const CasingView casing = rig.chamber().water().casings.at(0);
  EXPECT_EQ(casing.given_ml, 200.0);
  EXPECT_LT(std::fabs(casing.account.gave_g), 0.2);
}

TEST(ChamberWater, BeginsWithTheCasingAndEndsWithIt) {
  Rig rig(measured([](Plans& p) {
    p.phase("colonization");
    p.phase("casing");
  }));
  rig.start("colonization");
  read(rig);
  rig.wait(hours(1));
  EXPECT_TRUE(rig.chamber().water().casings.empty()) << "there is no casing yet";
  rig.in_phase("casing");
  rig.wait(hours(1));
  const Duration since = rig.chamber().water().casings.at(0).account.since;
  EXPECT_LE(since, hours(1));
  rig.in_phase("fruiting");
  EXPECT_GE(rig.chamber().water().casings.at(0).account.since, since);
  rig.in_phase("empty");
  EXPECT_TRUE(rig.chamber().water().casings.empty());
}

TEST(ChamberWater, GoesOnAfterARestart) {
  Rig before(measured());
  before.start("fruiting");
  read(before);
  before.step(event::Watered{"tub-1", 150.0});
  before.wait(hours(3));
  before.step(event::Tick{});
  const auto kept = std::make_shared<const WaterBookState>(before.chamber().book());

  Rig after(measured());
  after.step(event::BookKnown{kept, hours(1)});
  after.start("fruiting");
  const CasingView casing = after.chamber().water().casings.at(0);
  EXPECT_EQ(casing.given_ml, 150.0);
  EXPECT_NEAR(casing.account.gave_g, before.chamber().water().casings.at(0).account.gave_g, 1e-9);
  EXPECT_NEAR(seconds_of(casing.account.since), 4 * 3600.0, 1.0);
  EXPECT_NEAR(seconds_of(casing.account.covered), 3 * 3600.0, 1.0);
}

TEST(ChamberWater, AddsUpEnergyAndNamesWhatItDoesNotKnow) {
  Rig rig(measured([](Plans& p) {
    p.keep("fruiting", Quantity::air_temperature, 18.0, 22.0);
    p.part(fan).power_w = 3.0;
  }));
  rig.start("fruiting");
  rig.air(15.0);
  rig.humidity(90.0);
  rig.wait(hours(2));
  const WaterView view = rig.chamber().water();
  EXPECT_NEAR(view.day_energy_wh, 30.0, 3.0);
  EXPECT_EQ(view.unmetered,
            (std::vector<std::string>{"stir", "mister", "cooler", "lamp", "dryer"}));
}

}  // namespace
}  // namespace tubwarden
