// Effects by name, and the limits they have when the configuration names none.
#include <gtest/gtest.h>

#include <string>

#include "core/climate/actuator_plan.hpp"

namespace tubwarden {
namespace {

constexpr Effect kAll[] = {Effect::humidify,  Effect::dehumidify, Effect::heat, Effect::cool,
                           Effect::fresh_air, Effect::stir,       Effect::light};

TEST(Effect, HasTheKeyOfTheClosedList) {
  // The closed list of the shared details.
  const char* keys[] = {"humidify", "dehumidify", "heat", "cool", "fresh_air", "stir", "light"};
  for (std::size_t i = 0; i < std::size(kAll); ++i) EXPECT_EQ(name_of(kAll[i]), keys[i]);
}

TEST(Effect, DefaultLimitsAgreeWithEachOther) {
  for (Effect effect : kAll) {
    const RunLimits limits = default_limits(effect);
    if (limits.longest_run > Duration{0}) {
      EXPECT_GT(limits.longest_run, limits.shortest_run) << name_of(effect);
    }
    // As many starts as are allowed must fit into an hour.
    EXPECT_LE(limits.starts_per_hour * (limits.shortest_run + limits.shortest_rest), hours(1))
        << name_of(effect);
  }
}

TEST(Effect, AMisterNeverRunsForLongAndACompressorNeverCyclesFast) {
  EXPECT_GT(default_limits(Effect::humidify).longest_run, Duration{0});
  for (Effect compressor : {Effect::cool, Effect::dehumidify}) {
    EXPECT_GE(default_limits(compressor).shortest_rest, minutes(3));
  }
}

}  // namespace
}  // namespace tubwarden
