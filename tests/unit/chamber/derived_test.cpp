// Dew point and drying power: kept through the humidity, and warned of.
#include "core/chamber/derived_air.hpp"

#include "core/air/derived.hpp"
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr Derived kDrying = Derived::bed_drying;

Rig::Change drying(std::optional<Band> keep, std::optional<Warn> warn) {
  return [=](Plans& s) {
    s.phase("fruiting").derived[index_of(kDrying)] = DerivedPlan{keep, warn};
    s.phase("fruiting").settle_other = Duration{0};
    s.never_stale();
  };
}

TEST(DerivedBand, IsTheHumidityAtWhichItHolds) {
  const AirParts parts{std::nullopt, Celsius{17}, Celsius{18}};
  const Band wanted{0.2, 0.4};
  const auto humid = humidity_band(kDrying, wanted, parts);
  ASSERT_TRUE(humid);
  // The drier edge is the stronger drying.
  EXPECT_NEAR(*derived(kDrying, {Percent{humid->low}, parts.air, parts.substrate}), 0.4, 1e-6);
  EXPECT_NEAR(*derived(kDrying, {Percent{humid->high}, parts.air, parts.substrate}), 0.2, 1e-6);
  EXPECT_FALSE(humidity_band(kDrying, wanted, {std::nullopt, Celsius{17}, std::nullopt}));
}

TEST(DerivedBand, DrivesTheMister) {
  Rig rig(drying(Band{0.2, 0.4}, std::nullopt));
  rig.start("fruiting");
  rig.air(17);
  rig.substrate(18);
  rig.humidity(70);
  EXPECT_TRUE(rig.runs(mister)) << rig.why(mister);
  rig.humidity(95);
  EXPECT_FALSE(rig.runs(mister)) << rig.why(mister);
}

TEST(DerivedBand, WithoutATemperatureNothingIsKnownAndNothingRuns) {
  Rig rig(drying(Band{0.2, 0.4}, std::nullopt));
  rig.start("fruiting").humidity(70);
  EXPECT_FALSE(rig.runs(mister)) << rig.why(mister);
}

TEST(DerivedBand, IsWarnedOf) {
  Rig rig(drying(std::nullopt, Warn{std::nullopt, 0.4, minutes(10)}));
  rig.start("fruiting");
  rig.air(17);
  rig.substrate(18);
  rig.humidity(70);
  rig.wait(minutes(9));
  EXPECT_TRUE(rig.alerts().empty());
  rig.wait(minutes(1));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"raised tub-1.bed_drying_high"});
  rig.humidity(92);
  rig.wait(minutes(2));
  EXPECT_EQ(rig.alerts(), std::vector<std::string>{"returned tub-1.bed_drying_high"});
}

}  // namespace
}  // namespace tubwarden
