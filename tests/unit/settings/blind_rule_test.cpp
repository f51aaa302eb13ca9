// `blind: duty` where it may be, and where a heater or a part without a reading may not have it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr const char* kTub = "tubs/tub-1.yaml";

/// The bench's tub-1 has a ceiling, two sensors of temperature, and a mat.
struct Blind {
  bench::Folder folder;
  Blind() {
    folder.spoil(kTub, "falls_by_itself_after: 60s",
                 "falls_by_itself_after: 60s\n      blind: duty");
  }
};

TEST(BlindRuleOfAFile, IsSafeUnlessItIsAskedForAnother) {
  bench::Folder folder;
  folder.spoil(kTub, "safe: rest\n      falls_by_itself_after: 30s",
               "safe: rest\n      blind: duty\n      falls_by_itself_after: 30s");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded), IsEmpty());
  const ChamberPlan* chamber = loaded.grow.chamber("tub-1");
  ASSERT_TRUE(chamber);
  EXPECT_EQ(chamber->actuators[0].blind, BlindRule::duty);
  EXPECT_EQ(chamber->actuators[1].blind, BlindRule::safe);
}

TEST(BlindRuleOfAFile, AHeaterMayHaveItUnderACeilingWithTwoSensors) {
  Blind blind;
  EXPECT_THAT(bench::told(blind.folder.load()), IsEmpty());
}

TEST(BlindRuleOfAFile, AHeaterMayNotWithoutACeiling) {
  Blind blind;
  blind.folder.spoil(kTub, "substrate_ceiling: 26.5 C\n", "");
  EXPECT_THAT(bench::told(blind.folder.load()),
              ElementsAre(HasSubstr("'blind: duty' is refused for the heater mat: without its "
                                    "sensor nothing would tell when it is too warm. Allowed:")));
}

TEST(BlindRuleOfAFile, AHeaterMayNotWithOneSensorOfTemperature) {
  Blind blind;
  blind.folder.spoil(kTub, "      temperature: {at: /t, place: air}\n", "");
  EXPECT_THAT(bench::told(blind.folder.load()),
              testing::Contains(HasSubstr("'blind: duty' is refused for the heater mat")));
}

TEST(BlindRuleOfAFile, AHeaterWithACutOutMayAlways) {
  Blind blind;
  blind.folder.spoil(kTub, "substrate_ceiling: 26.5 C\n", "");
  blind.folder.spoil(kTub, "blind: duty", "blind: duty\n      cut_out: bimetal at 40 C");
  EXPECT_THAT(bench::told(blind.folder.load()), IsEmpty());
}

TEST(BlindRuleOfAFile, APartWithoutAReadingOfItsOwnMayNot) {
  bench::Folder folder;
  folder.spoil(kTub, "lease: 9s", "blind: duty");
  folder.spoil(kTub, "effect: fresh_air", "effect: stir");
  EXPECT_THAT(bench::told(folder.load()),
              testing::Contains(HasSubstr("36:7: stir follows no reading of its own; leave 'blind' "
                                          "out")));
}

}  // namespace
}  // namespace tubwarden
