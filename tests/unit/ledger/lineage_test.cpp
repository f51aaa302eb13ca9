#include "core/ledger/lineage.hpp"

#include <gmock/gmock.h>

#include "unit/ledger/grower.hpp"

namespace tubwarden {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

class LineageTest : public ::testing::Test {
 protected:
  LineageTest() {
    grower.does("2026-02-27", Sterilised{"S-3", "rye", minutes(90), 103.0, {}});
    grower.does("2026-03-01", CultureReceived{"LC-2", "A15", "", 10.0});
    grower.does("2026-03-01", CultureReceived{"LC-3", "A15", "", 10.0});
    JarsAdded first = grower.jars(5, "B-07", "LC-2", 1.0);  // J-1 to J-5
    first.run = "S-3";
    grower.does("2026-03-02", first);
    JarsAdded second = grower.jars(4, "B-08", "LC-3", 1.0);  // J-6 to J-9
    second.grain = "wheat";
    grower.does("2026-03-09", second);
    grower.does("2026-03-12", JarLookedAt{"J-1", 20.0});
    grower.does("2026-03-13", JarContaminated{"J-2", "green"});
    grower.does("2026-03-20", grower.spawn("tub-1", {"J-1", "J-3"}));
    grower.enters("tub-1", "colonization", "2026-03-20");
    grower.enters("tub-1", "fruiting", "2026-04-20");
    grower.does("2026-04-25", Picked{"tub-1", "B-07", 300.0, {}});
    grower.does("2026-03-15", Observed{"J-1", "white as snow"});
  }

  std::vector<std::string> lines(const std::string& id, TraceSide side) const {
    std::vector<std::string> found;
    const auto all = trace(grower.book, id);
    if (!all.ok()) return {all.error().text};
    for (const TraceLine& line : all->lines) {
      if (line.side == side) found.push_back(line.text);
    }
    return found;
  }
  SiblingGroup group(const std::string& jar, SharedBy by) const {
    for (const SiblingGroup& g : siblings(grower.book, *grower.book.jar(jar), hours(1))) {
      if (g.by == by) return g;
    }
    return {};
  }

  Grower grower;
};

TEST_F(LineageTest, AJarIsTracedBothWays) {
  EXPECT_THAT(lines("J-1", TraceSide::source),
              ElementsAre(HasSubstr("sterilising run S-3"), HasSubstr("culture LC-2 received")));
  EXPECT_THAT(lines("J-1", TraceSide::itself),
              ElementsAre(HasSubstr("1 mL each of LC-2"), HasSubstr("20 % grown through"),
                          HasSubstr("white as snow"), HasSubstr("mixed into 5 kg")));
  EXPECT_THAT(lines("J-1", TraceSide::offspring),
              ElementsAre("tub-1 enters colonization", "tub-1 enters fruiting, flush 1",
                          HasSubstr("300 g picked in tub-1")));
}

TEST_F(LineageTest, ATubIsTracedToItsJarsAndTheirCulture) {
  const auto sources = lines("tub-1", TraceSide::source);
  EXPECT_THAT(sources, ::testing::Contains(HasSubstr("culture LC-2 received")));
  EXPECT_THAT(sources, ::testing::Contains(HasSubstr("5 jars of rye, J-1 to J-5")));
  EXPECT_THAT(sources, ::testing::Not(::testing::Contains(HasSubstr("LC-3"))));
  EXPECT_THAT(sources, ::testing::Not(::testing::Contains(HasSubstr("J-2 is contaminated"))))
      << "a sister jar that did not go into the tub is no source of it";
}

TEST_F(LineageTest, ACultureTellsOfItsJarsOnlyHowTheyBeganAndEnded) {
  EXPECT_THAT(
      lines("LC-2", TraceSide::offspring),
      ElementsAre(HasSubstr("5 jars of rye"), HasSubstr("J-2 is contaminated: green"),
                  HasSubstr("white as snow"), HasSubstr("mixed into"), "tub-1 enters colonization",
                  "tub-1 enters fruiting, flush 1", HasSubstr("300 g")));
  EXPECT_THAT(lines("LC-3", TraceSide::offspring), ElementsAre(HasSubstr("4 jars of wheat")));
}

TEST_F(LineageTest, AnUnknownIdSaysWhereTheIdsAre) {
  EXPECT_THAT(lines("J-99", TraceSide::itself), ElementsAre(HasSubstr("tubwarden jar list")));
}

TEST_F(LineageTest, WhatWasTakenBackIsNotTold) {
  const std::int64_t look = grower.does("2026-03-14", JarLookedAt{"J-3", 30.0});
  grower.does("2026-03-14", Undone{look});
  for (const std::string& line : lines("J-3", TraceSide::itself)) {
    EXPECT_THAT(line, ::testing::Not(HasSubstr("30 %")));
  }
}

TEST_F(LineageTest, SiblingsAreCountedByWhatTheyShare) {
  const SiblingGroup culture = group("J-2", SharedBy::culture);
  EXPECT_EQ(culture.name, "LC-2");
  EXPECT_EQ(culture.all, 5u);
  EXPECT_EQ(culture.affected, 1u);
  EXPECT_EQ(culture.others, 4u);
  EXPECT_EQ(culture.others_affected, 0u);
  EXPECT_THAT(culture.to_watch, ElementsAre("J-4", "J-5"));
  EXPECT_THAT(culture.tubs, ElementsAre("tub-1"));
  EXPECT_EQ(group("J-2", SharedBy::run).all, 5u);
  EXPECT_EQ(group("J-2", SharedBy::grain).name, "rye");
  EXPECT_EQ(group("J-2", SharedBy::day).name, "2026-03-02");
  EXPECT_EQ(group("J-6", SharedBy::grain).all, 4u);
  EXPECT_THAT(group("J-6", SharedBy::run).name, IsEmpty()) << "no run was noted";
}

TEST_F(LineageTest, TheDayIsThePlacesOwn) {
  const auto at = [&](Duration east) {
    return siblings(grower.book, *grower.book.jar("J-2"), east).back().name;
  };
  EXPECT_EQ(at(hours(13)), "2026-03-03");  // noon in UTC is after midnight there
  EXPECT_EQ(at(hours(-11)), "2026-03-02");
}

TEST_F(LineageTest, JarsOfOtherYearsAreNoMeasure) {
  grower.now = day_of("2028-01-01");
  grower.does("2027-06-01", CultureReceived{"LC-9", "", "", 10.0});
  grower.does("2027-06-02", grower.jars(1, "B-20", "LC-9", 1.0));
  EXPECT_EQ(group("J-10", SharedBy::culture).others, 0u);
}

}  // namespace
}  // namespace tubwarden
