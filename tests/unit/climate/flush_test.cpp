// The loop of flushes by a profile: what belongs to it, and how it is counted.
#include <gtest/gtest.h>

#include "core/climate/flush.hpp"

namespace {

using namespace tubwarden;

Profile with_loop() {
  Profile profile;
  for (const char* name : {"pinning", "fruiting", "drying", "rest"}) {
    profile.phases.push_back({});
    profile.phases.back().name = name;
  }
  profile.phases[2].stage_of = profile.phases[3].stage_of = "fruiting";
  return profile;
}

TEST(Flush, ALoopIsItsFirstPhaseAndItsStages) {
  const Profile profile = with_loop();
  EXPECT_EQ(loop_of(profile, "pinning"), "");
  EXPECT_EQ(loop_of(profile, "fruiting"), "fruiting");
  EXPECT_EQ(loop_of(profile, "rest"), "fruiting");
  EXPECT_EQ(loop_of(profile, "unknown"), "");
  EXPECT_EQ(loop_of(profile, ""), "");
}

TEST(Flush, IsCountedByEntriesIntoTheFirstStage) {
  const Profile profile = with_loop();
  EXPECT_EQ(flush_in(profile, "pinning", {{"pinning", 1}}), 0);
  EXPECT_EQ(flush_in(profile, "fruiting", {{"pinning", 1}, {"fruiting", 1}}), 1);
  EXPECT_EQ(flush_in(profile, "drying", {{"fruiting", 1}, {"drying", 1}}), 1);
  EXPECT_EQ(flush_in(profile, "rest", {{"fruiting", 2}, {"drying", 2}, {"rest", 2}}), 2);
  EXPECT_EQ(flush_in(profile, "fruiting", {{"fruiting", 3}}), 3);
  EXPECT_EQ(flush_in(profile, "rest", {{"rest", 1}}), 1) << "entered by a later stage";
}

TEST(Flush, FruitingIsALoopWithoutStagesToo) {
  Profile profile;
  profile.phases.push_back({});
  profile.phases.back().name = kPhaseFruiting;
  EXPECT_EQ(flush_in(profile, "fruiting", {{"fruiting", 1}}), 1);
}

}  // namespace
