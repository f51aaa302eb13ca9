// Faults of a rehearsal as a file: each word finds its air and part, and what is wrong has a line.
#include "settings/faults_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"
#include "settings/option_table.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

struct FaultsRead {
  std::vector<FaultLine> faults;
  std::vector<std::string> told;
};

FaultsRead read(const std::string& text) {
  static const GrowPlan grow = bench::Folder().load().grow;
  FaultsRead out;
  std::vector<Finding> findings;
  out.faults = read_faults(text, "f.yaml", grow, findings);
  for (const Finding& finding : findings) out.told.push_back(finding.told());
  return out;
}

/// One fault, its keys in braces.
FaultsRead one(const std::string& keys) { return read("faults:\n  - {" + keys + "}\n"); }

TEST(Faults, KnowWhereEachWordOfTheTableHappens) {
  for (const std::string& word : words_in(row_of("fault", "fault")->words)) {
    EXPECT_TRUE(fault_place(word).has_value()) << word;
  }
  EXPECT_FALSE(fault_place("meteor").has_value());
}

TEST(Faults, FindTheirPartByNameOrBecauseItIsTheOnlyOne) {
  const FaultsRead named = one("fault: tank_empty, tub: tub-1, actuator: mister, at: 10d, for: 6h");
  ASSERT_THAT(named.told, IsEmpty());
  ASSERT_EQ(named.faults.size(), 1u);
  EXPECT_EQ(named.faults[0].chamber, "tub-1");
  EXPECT_EQ(named.faults[0].part, "mister");
  EXPECT_EQ(named.faults[0].line, 2);
  EXPECT_EQ(named.faults[0].at, hours(240));
  EXPECT_EQ(named.faults[0].lasts, hours(6));
  const FaultsRead alone = one("fault: tank_empty, tub: tub-1, at: 10d, for: 6h");
  ASSERT_THAT(alone.told, IsEmpty());
  EXPECT_EQ(alone.faults[0].part, "mister");
  EXPECT_EQ(alone.faults[0].index, named.faults[0].index);
  // A tub in a shared air means that air.
  EXPECT_EQ(one("fault: lid_open, tub: tub-2, at: 1d, for: 5m").faults[0].chamber, "closet");
}

TEST(Faults, OfTheSiteAreInEachAir) {
  const FaultsRead gone = one("fault: broker_gone, at: 1d, for: 1h");
  ASSERT_THAT(gone.told, IsEmpty());
  EXPECT_EQ(gone.faults[0].chamber, "");
  EXPECT_EQ(gone.faults[0].place, FaultPlace::site);
}

TEST(Faults, DriftByADistanceADayAndTurnTheClockEitherWay) {
  const FaultsRead up = one(
      "fault: sensor_drifting, tub: tub-1, sensor: air, quantity: humidity, rises: 0.5 %, at: 0h, "
      "for: 5d");
  ASSERT_THAT(up.told, IsEmpty());
  EXPECT_EQ(up.faults[0].quantity, Quantity::humidity);
  EXPECT_DOUBLE_EQ(up.faults[0].amount, 0.5);
  // 9 F are a distance of 5 C.
  const FaultsRead down =
      one("fault: sensor_drifting, tub: tub-1, sensor: air, quantity: air_temperature, falls: 9 F, "
          "at: 0h, for: 5d");
  ASSERT_THAT(down.told, IsEmpty());
  EXPECT_DOUBLE_EQ(down.faults[0].amount, -5.0);
  EXPECT_DOUBLE_EQ(one("fault: clock_jump, behind: 2h, at: 0h, for: 5h").faults[0].amount, -7200.0);
  EXPECT_DOUBLE_EQ(one("fault: clock_jump, ahead: 2h, at: 0h, for: 5h").faults[0].amount, 7200.0);
}

TEST(Faults, SayWhatIsWrongWhereItStands) {
  EXPECT_THAT(one("fault: tank_emty, tub: tub-1, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("f.yaml:2:13: 'tank_emty' is not allowed for 'fault'; nearest "
                                    "is 'tank_empty'")));
  EXPECT_THAT(one("fault: tank_empty, tub: tub-1, for: 6h").told,
              ElementsAre(HasSubstr("f.yaml:2:5: 'at' is missing here")));
  EXPECT_THAT(one("fault: tank_empty, tub: tub-1, at: 1d, for: 6").told,
              ElementsAre(HasSubstr("f.yaml:2:50: ")));
  EXPECT_THAT(one("fault: tank_empty, tub: tub-11, at: 1d, for: 6h").told,
              ElementsAre("f.yaml:2:30: 'tub-11' is no tub and no chamber; nearest is 'tub-1'; "
                          "allowed: tub-1, tub-2, closet"));
  EXPECT_THAT(one("fault: fan_dead, tub: tub-1, actuator: mister, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("f.yaml:2:45: fan_dead: 'mister' is no actuator that does "
                                    "fresh_air of tub-1; allowed: fan")));
  EXPECT_THAT(one("fault: sensor_dead, tub: tub-1, sensor: moon, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("f.yaml:2:46: sensor_dead: 'moon' is no sensor of tub-1")));
  EXPECT_THAT(one("fault: restart, tub: tub-1, at: 1d, for: 6h").told,
              ElementsAre("f.yaml:2:22: restart takes no 'tub'; leave it out"));
  EXPECT_THAT(one("fault: tank_empty, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("f.yaml:2:5: tank_empty: say in which air, as tub: NAME")));
  EXPECT_THAT(one("fault: clock_jump, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("allowed: ahead: or behind:, one of them")));
  EXPECT_THAT(one("fault: clock_jump, ahead: 1h, behind: 1h, at: 1d, for: 6h").told,
              ElementsAre(HasSubstr("allowed: ahead: or behind:, one of them")));
  EXPECT_THAT(one("fault: sensor_drifting, tub: tub-1, sensor: air, quantity: humidity, at: 1d, "
                  "for: 6h")
                  .told,
              ElementsAre(HasSubstr("allowed: rises: or falls:, one of them")));
  EXPECT_THAT(
      one("fault: sensor_drifting, tub: tub-1, sensor: air, rises: 1 %, at: 1d, for: 6h").told,
      ElementsAre(HasSubstr("say which quantity of air drifts")));
}

TEST(Faults, RefuseWhatIsNoFileOfFaults) {
  EXPECT_THAT(read("nothing: 1\n").told,
              ElementsAre(HasSubstr("f.yaml:1:1: unknown key 'nothing'"),
                          HasSubstr("f.yaml:1:1: 'faults' is missing here")));
  EXPECT_THAT(read("faults: [\n").told, ElementsAre(HasSubstr("not well-formed YAML")));
  EXPECT_THAT(read("").told, ElementsAre(HasSubstr("the file is empty")));
  EXPECT_THAT(read("faults: 7\n").told, ElementsAre(HasSubstr("takes a list")));
  EXPECT_THAT(read("faults: [7]\n").told, testing::Contains(HasSubstr("a section of keys")));
  std::string many = "faults:\n";
  for (std::size_t i = 0; i <= kFaultsMax; ++i) many += "  - {fault: restart, at: 1d, for: 5s}\n";
  EXPECT_THAT(read(many).told, ElementsAre(HasSubstr("1001 faults; allowed: at most 1000")));
}

}  // namespace
}  // namespace tubwarden
