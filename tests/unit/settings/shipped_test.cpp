// The configuration that is shipped: without a finding, and saying what the design says.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

const std::filesystem::path kShipped = std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config";

TEST(Shipped, LoadsWithoutAFinding) {
  const Loaded loaded = load_folder(kShipped, bench::catalogue());
  EXPECT_THAT(bench::told(loaded), IsEmpty());
  ASSERT_TRUE(loaded.site);
  EXPECT_EQ(loaded.site->site, "cellar");
  EXPECT_THAT(loaded.broken_tubs, IsEmpty());
  EXPECT_EQ(loaded.grow.tubs.size(), 3u);
  EXPECT_EQ(loaded.grow.chambers.size(), 2u);
  EXPECT_EQ(check_report(loaded), "no errors in 6 files\n");
}

TEST(Shipped, HasTwoTubsAShelfAndASharedChamberWithALeader) {
  const Loaded loaded = load_folder(kShipped, bench::catalogue());
  const TubPlan* jars = loaded.grow.tub("jars");
  ASSERT_TRUE(jars);
  EXPECT_TRUE(jars->is_shelf);
  EXPECT_EQ(jars->chamber, "closet");
  ASSERT_TRUE(loaded.grow.tub("tub-1"));
  EXPECT_EQ(loaded.grow.tub("tub-1")->chamber, "tub-1");
  ASSERT_TRUE(loaded.grow.chamber("closet"));
  EXPECT_EQ(loaded.grow.chamber("closet")->leader, "tub-2");
}

TEST(Shipped, ProfileHasTheSixPhasesAndTheStagesOfAFlush) {
  const Loaded loaded = load_folder(kShipped, bench::catalogue());
  ASSERT_FALSE(loaded.grow.tubs.empty());
  std::vector<std::string> names;
  const Profile& profile = *loaded.grow.tubs[0].profile;
  for (const PhasePlan& p : profile.phases) names.push_back(p.name);
  EXPECT_THAT(names, ElementsAre(kPhaseGrain, kPhaseColonization, kPhaseCasing, kPhasePinning,
                                 kPhaseFruiting, "drying", "rest", kPhaseEmpty));
  // The loop comes round: picked by hand, dried by itself, and the next pins are looked for.
  EXPECT_EQ(profile.find("fruiting")->next, "drying");
  EXPECT_FALSE(profile.find("fruiting")->next_plan.judged());
  EXPECT_EQ(profile.find("drying")->next_plan.how, NextPlan::How::go);
  EXPECT_EQ(profile.find("drying")->next_plan.after, Duration(hours(12)));
  EXPECT_EQ(profile.find("rest")->next, "fruiting");
  EXPECT_EQ(profile.find("rest")->next_plan.how, NextPlan::How::ask);
  for (const char* stage : {"drying", "rest"}) {
    EXPECT_EQ(profile.find(stage)->stage_of, "fruiting");
    EXPECT_EQ(loaded.grow.chamber("tub-1")->net_volume.in(stage), 38.0) << "fruiting's";
  }
}

/// Every line of the profile that has a number in its value says where the number is from.
TEST(Shipped, EveryNumberOfTheProfileNamesItsSource) {
  const std::string text = parts::read_file(kShipped / "profiles/button.yaml");
  std::size_t from = text.find("phases:"), numbers = 0;
  ASSERT_NE(from, std::string::npos);
  while (from < text.size()) {
    const std::size_t end = std::min(text.find('\n', from), text.size());
    const std::string line = text.substr(from, end - from);
    from = end + 1;
    std::string value = line.substr(0, line.find('#'));
    if (const std::size_t co2 = value.find("co2:"); co2 != std::string::npos) value.erase(co2, 4);
    if (value.find_first_of("0123456789") == std::string::npos) continue;
    ++numbers;
    const std::string comment = line.substr(std::min(line.find('#'), line.size()));
    const bool cites = comment.find("hoice") != std::string::npos ||
                       testing::Matches(testing::ContainsRegex("[ #][A-M](, [A-M])*:? "))(comment);
    EXPECT_TRUE(cites) << line;
  }
  EXPECT_GT(numbers, 20u);
}

}  // namespace
}  // namespace tubwarden
