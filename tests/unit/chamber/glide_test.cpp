// Glide and settle: where a band starts, how it moves, what waits for it.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kAir = Quantity::air_temperature;
constexpr auto kSubstrate = Quantity::substrate_temperature;
constexpr auto kHumidity = Quantity::humidity;

/// From substrate 24..26 in colonization to air 15..18 in 48 h.
Rig::Change cools_down() {
  return [](Plans& s) {
    s.keep("colonization", kSubstrate, 24, 26);
    s.keep("fruiting", kAir, 15, 18).glide = hours(48);
    s.warn("fruiting", kAir, {13.0, 20.0, minutes(10)});
    s.never_stale();
  };
}

double middle(const Rig& rig, Quantity q) {
  EXPECT_TRUE(rig.view(q).keep);
  return rig.view(q).keep ? rig.view(q).keep->middle() : 0.0;
}

TEST(Glide, StartsAtTheMedianOfTheLastTenMinutesInTheNewPlace) {
  Rig rig(cools_down());
  rig.start("colonization");
  rig.substrate(25.5);
  rig.air(40);  // eleven minutes before the change
  rig.wait(minutes(1));
  for (const double v : {22.0, 21.0, 23.0, 35.0, 22.5}) {
    rig.air(v);
    rig.wait(minutes(2));
  }
  rig.in_phase("fruiting");
  ASSERT_EQ(rig.glides.size(), 1U);
  EXPECT_EQ(rig.glides[0].tub, "tub-1");
  EXPECT_EQ(rig.glides[0].quantity, kAir);
  EXPECT_DOUBLE_EQ(rig.glides[0].value, 22.5);
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 22.5);
  EXPECT_DOUBLE_EQ(rig.view(kAir).keep->width(), 3.0);
  EXPECT_EQ(rig.last.glides.size(), 1U);
  rig.air(22.4);
  EXPECT_EQ(rig.glides.size(), 1U) << "once";
}

TEST(Glide, TheMedianOfAnEvenNumberIsTheMeanOfTheMiddleTwo) {
  Rig rig(cools_down());
  rig.start("colonization");
  for (const double v : {21.0, 22.0}) {
    rig.air(v);
    rig.wait(minutes(1));
  }
  rig.in_phase("fruiting");
  ASSERT_EQ(rig.glides.size(), 1U);
  EXPECT_DOUBLE_EQ(rig.glides[0].value, 21.5);
}

TEST(Glide, ManyReadingsAreThinnedNotForgotten) {
  Rig rig(cools_down());
  rig.start("colonization");
  // Ten minutes each second: the first half at 20, the second at 24.
  for (int i = 0; i < 600; ++i) {
    rig.air(i < 330 ? 20 : 24);
    rig.wait(seconds(1));
  }
  rig.in_phase("fruiting");
  ASSERT_EQ(rig.glides.size(), 1U);
  EXPECT_DOUBLE_EQ(rig.glides[0].value, 20);
}

TEST(Glide, MovesBothEdgesLinearly) {
  Rig rig(cools_down());
  rig.start("colonization").air(22.5);
  rig.in_phase("fruiting");
  const std::pair<Duration, double> points[] = {{hours(12), 21.0}, {hours(24), 19.5},
                                                {hours(36), 18.0}, {hours(47), 16.625},
                                                {hours(48), 16.5}, {hours(60), 16.5}};
  const Instant begun = rig.now;
  for (const auto& [elapsed, mid] : points) {
    rig.wait(begun + elapsed - rig.now);
    EXPECT_NEAR(middle(rig, kAir), mid, 1e-9) << seconds_of(elapsed) / 3600;
    EXPECT_NEAR(rig.view(kAir).keep->low, mid - 1.5, 1e-9);
    EXPECT_NEAR(*rig.view(kAir).warn_below, mid - 16.5 + 13.0, 1e-9);
    EXPECT_NEAR(*rig.view(kAir).warn_above, mid - 16.5 + 20.0, 1e-9);
  }
}

TEST(Glide, StartsCoolingByItselfAsTheBandLeavesTheAir) {
  Rig rig(cools_down());
  rig.start("colonization").air(22.5);
  rig.in_phase("fruiting");
  EXPECT_FALSE(rig.runs(cooler));
  // Cooling starts above mid + 0.75: the middle is 21.75 after 6 h.
  rig.wait(hours(6));
  EXPECT_FALSE(rig.runs(cooler));
  rig.wait(minutes(1));
  EXPECT_TRUE(rig.runs(cooler)) << "no reading came, the band moved";
}

TEST(Glide, GoesOnFromTheRecordedStartAfterARestart) {
  Rig rig(cools_down());
  rig.start("");
  rig.air(17);
  TubPhase known{"tub-1", "fruiting", rig.now - hours(24), {}};
  known.glide_from[index_of(kAir)] = 22.5;
  rig.step(event::PhaseIs{known});
  EXPECT_TRUE(rig.glides.empty());
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 19.5);
}

TEST(Glide, TheSamePhaseToldAgainKeepsIt) {
  Rig rig(cools_down());
  rig.start("colonization").air(22.5);
  rig.in_phase("fruiting");
  rig.wait(hours(1));
  rig.step(event::PhaseIs{{"tub-1", "fruiting", rig.now - hours(24), {}}});  // a mended clock
  EXPECT_EQ(rig.glides.size(), 1U);
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 19.5);
}

TEST(Glide, WaitsForAReadingToStartFrom) {
  Rig rig(cools_down());
  rig.start("fruiting");
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 16.5);
  rig.wait(minutes(30)).air(22.5);
  ASSERT_EQ(rig.glides.size(), 1U);
  EXPECT_DOUBLE_EQ(rig.glides[0].value, 22.5);
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 16.5 + 6.0 * (1.0 - 0.5 / 48));
}

TEST(Glide, OldReadingsAndRetainedOnesAreNoStart) {
  Rig rig(cools_down());
  rig.start("colonization").air(22.5);
  rig.wait(minutes(10) + seconds(1));
  rig.step(event::Reading{air_sensor, kAir, 30, true, false, Duration{0}});
  rig.step(event::Reading{air_sensor, kAir, 30, false, false, minutes(11)});
  rig.in_phase("fruiting");
  EXPECT_TRUE(rig.glides.empty());
}

TEST(Glide, NoneIsAJump) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 18);
    s.never_stale();
  });
  rig.start("fruiting").air(22.5);
  EXPECT_TRUE(rig.glides.empty());
  EXPECT_DOUBLE_EQ(middle(rig, kAir), 16.5);
}

TEST(Glide, AHalfBandDoesNotGlide) {
  Rig rig([](Plans& s) {
    s.keep_above("fruiting", kHumidity, 90).glide = hours(48);
    s.never_stale();
  });
  rig.start("fruiting").humidity(70);
  EXPECT_TRUE(rig.glides.empty());
  EXPECT_EQ(*rig.view(kHumidity).keep, (Band{90, 100}));
}

TEST(Glide, ANewPhaseStartsAnew) {
  Rig rig([](Plans& s) {
    cools_down()(s);
    s.keep("casing", kAir, 17, 19).glide = hours(10);
  });
  rig.start("colonization").air(24);
  rig.in_phase("casing");
  rig.wait(hours(9)).air(18);
  rig.in_phase("fruiting");
  ASSERT_EQ(rig.glides.size(), 2U);
  EXPECT_DOUBLE_EQ(rig.glides[1].value, 18);
}

TEST(Glide, DoesNotShiftTheLimitsOfAPhaseThatOnlyWarns) {
  Rig rig([](Plans& s) {
    cools_down()(s);
    s.warn("casing", kAir, {13.0, 20.0, minutes(10)});
  });
  rig.start("colonization").air(24);
  rig.in_phase("fruiting");
  ASSERT_NE(*rig.view(kAir).warn_above, 20.0);
  rig.in_phase("casing");
  EXPECT_EQ(*rig.view(kAir).warn_above, 20.0);
  EXPECT_EQ(*rig.view(kAir).warn_below, 13.0);
}

// --- settle -------------------------------------------------------------------------------------

TEST(Settle, WarnLimitsWaitTwelveHoursForATemperatureAndOneForTheOthers) {
  Rig rig([](Plans& s) {
    s.warn("fruiting", kAir, {13.0, 20.0, minutes(10)});
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(10)});
    s.never_stale();
  });
  rig.start("fruiting").air(25);
  rig.humidity(60);
  rig.wait(hours(1) + minutes(10) - Duration{1});
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.humidity_low"});
  rig.wait(hours(11) - Duration{1});
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.air_temperature_high"});
}

TEST(Settle, CountsFromTheChangeAcrossARestart) {
  Rig rig([](Plans& s) {
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(10)});
    s.never_stale();
  });
  rig.start("fruiting", minutes(55)).humidity(60);
  rig.wait(minutes(15) - Duration{1});
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(Duration{1});
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.humidity_low"});
}

TEST(Settle, AStandingAlertReturnsWithTheChange) {
  Rig rig([](Plans& s) {
    s.warn("casing", kHumidity, {78.0, 95.0, minutes(10)});
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(10)});
    s.never_stale();
  });
  rig.start("casing", hours(2)).humidity(60);
  rig.wait(minutes(10));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.humidity_low"});
  rig.in_phase("fruiting");
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.humidity_low"});
}

TEST(Settle, TheCeilingDoesNotWait) {
  Rig rig([](Plans& s) {
    s.keep("colonization", kSubstrate, 24, 26);
    s.tubs[0].substrate_ceiling_c = 26.5;
  });
  rig.start("colonization").substrate(27);
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.substrate_ceiling"});
}

TEST(Settle, WarnLimitsFollowTheGlide) {
  Rig rig([](Plans& s) {
    cools_down()(s);
    s.phase("fruiting").settle_temperature = hours(12);
  });
  rig.start("colonization").air(22.5);
  rig.in_phase("fruiting");
  rig.wait(hours(12)).air(24.4);  // the limit is 20 + 4.5
  rig.wait(minutes(10));
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(hours(1));  // now 20 + 4.37
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.air_temperature_high"});
}

}  // namespace
}  // namespace tubwarden
