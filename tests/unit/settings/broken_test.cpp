// What falls with an error and what does not: a tub whose file, profile or chamber is broken is
// left out and named, the others stay; and one error does not call forth others that are none.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

std::vector<std::string> whole_tubs(const Loaded& loaded) {
  std::vector<std::string> ids;
  for (const TubPlan& tub : loaded.grow.tubs) ids.push_back(tub.id);
  return ids;
}

std::vector<std::string> whole_chambers(const Loaded& loaded) {
  std::vector<std::string> ids;
  for (const ChamberPlan& chamber : loaded.grow.chambers) ids.push_back(chamber.id);
  return ids;
}

TEST(Broken, ATubWithAWrongPhaseIsLeftOutAndTheOtherStays) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "phase: colonization", "phase: colonisation");
  const Loaded loaded = folder.load();
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1"));
  EXPECT_THAT(loaded.broken_chambers, ElementsAre("tub-1"));
  EXPECT_THAT(whole_tubs(loaded), ElementsAre("tub-2"));
  EXPECT_THAT(whole_chambers(loaded), ElementsAre("closet"));
  EXPECT_TRUE(loaded.site);
  EXPECT_TRUE(loaded.has_errors());
}

TEST(Broken, AFileThatEndsInASyntaxErrorIsKnownByTheNameBeforeIt) {
  bench::Folder folder;
  const std::string text = folder.text("tubs/tub-1.yaml");
  std::filesystem::remove(folder.path() / "tubs/tub-1.yaml");
  folder.write("tubs/by-the-window.yaml", text + "}\n");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u);
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1"));
}

TEST(Broken, AFileWithoutAReadableNameIsKnownByItsOwn) {
  bench::Folder folder;
  folder.write("tubs/tub-2.yaml", "{{{\n");
  const Loaded loaded = folder.load();
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-2"));
  // The closet's leader may be that very tub: no error of the closet's.
  EXPECT_EQ(loaded.findings.size(), 1u) << testing::PrintToString(bench::told(loaded));
  EXPECT_THAT(whole_chambers(loaded), ElementsAre("closet", "tub-1"));
}

TEST(Broken, AProfileTakesItsTubsWithItAndIsToldOnce) {
  bench::Folder folder;
  folder.spoil("profiles/button.yaml", "changes: 1", "changes: 0");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u);
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1", "tub-2"));
  EXPECT_THAT(whole_chambers(loaded), ElementsAre("closet"));
}

TEST(Broken, AProfileThatCannotBeReadAtAllIsToldOnce) {
  bench::Folder folder;
  folder.write("profiles/button.yaml", "- [\n");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u) << testing::PrintToString(bench::told(loaded));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1", "tub-2"));
}

TEST(Broken, AChamberTakesItsTubsWithItAndNoOther) {
  bench::Folder folder;
  folder.spoil("chambers/closet.yaml", "600 L", "600");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u);
  EXPECT_THAT(loaded.broken_chambers, ElementsAre("closet"));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-2"));
  EXPECT_THAT(whole_tubs(loaded), ElementsAre("tub-1"));
}

TEST(Broken, AChamberThatCannotBeReadAtAllIsToldOnce) {
  bench::Folder folder;
  folder.write("chambers/closet.yaml", "\"\n");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u) << testing::PrintToString(bench::told(loaded));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-2"));
}

TEST(Broken, ALeaderWithAnErrorLeavesItsChamberAndTheOthersThere) {
  bench::Folder folder;
  folder.write("tubs/jars.yaml",
               "shelf: jars\nbatch: G-1\nprofile: button\nphase: grain\nstands_in: closet\n");
  folder.spoil("tubs/tub-2.yaml", "batch: B-08", "batch: \"\"");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u) << testing::PrintToString(bench::told(loaded));
  EXPECT_THAT(whole_tubs(loaded), ElementsAre("jars", "tub-1"));
  EXPECT_EQ(loaded.grow.chamber("closet")->leader, "tub-2");
}

TEST(Broken, ALeaderThatStandsElsewhereByItsFileIsAnErrorOnlyBesideOthers) {
  bench::Folder folder;
  folder.write("tubs/jars.yaml",
               "shelf: jars\nbatch: G-1\nprofile: button\nphase: grain\nstands_in: closet\n");
  folder.spoil("chambers/closet.yaml", "leader: tub-2", "leader: tub-1");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("chambers/closet.yaml:2:9: leader 'tub-1' does not stand in closet; "
                          "nearest is 'tub-2'; allowed: jars, tub-2"));
}

TEST(Broken, ASiteWithAnErrorLeavesTheTubs) {
  bench::Folder folder;
  folder.spoil("tubwarden.yaml", "site: cellar", "site: the cellar");
  const Loaded loaded = folder.load();
  EXPECT_EQ(loaded.findings.size(), 1u) << testing::PrintToString(bench::told(loaded));
  EXPECT_FALSE(loaded.site);
  EXPECT_THAT(whole_tubs(loaded), ElementsAre("tub-1", "tub-2"));
}

TEST(Broken, TwoTubsOfOneNameAreBothLeftOut) {
  bench::Folder folder;
  folder.write("tubs/tub-3.yaml", folder.text("tubs/tub-2.yaml"));
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("tubs/tub-3.yaml:1:6: 'tub-2' is the name in tubs/tub-2.yaml already; "
                          "each tub and shelf has a name of its own"));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-2"));
  EXPECT_THAT(whole_tubs(loaded), ElementsAre("tub-1"));
}

TEST(Broken, TwoTubsOfOneNameWithAirOfTheirOwnAreToldOnce) {
  bench::Folder folder;
  folder.write("tubs/tub-3.yaml", folder.text("tubs/tub-1.yaml"));
  const Loaded loaded = folder.load();
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1"));
  EXPECT_THAT(loaded.broken_chambers, ElementsAre("tub-1"));
  EXPECT_THAT(whole_chambers(loaded), ElementsAre("closet"));
  EXPECT_EQ(loaded.findings.front().told(),
            "tubs/tub-3.yaml:1:6: 'tub-1' is the name in tubs/tub-1.yaml already; each tub and "
            "shelf has a name of its own");
}

TEST(Broken, AChamberOfATubsNameIsRefused) {
  bench::Folder folder;
  std::string text = folder.text("chambers/closet.yaml");
  text.replace(text.find("chamber: closet\nleader: tub-2"), 29, "chamber: tub-1");
  folder.write("chambers/other.yaml", text);
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("tubs/tub-1.yaml:7:1: an air called 'tub-1' is in chambers/other.yaml "
                          "already; a tub's own air has the tub's name"));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-1"));
}

TEST(Broken, TwoProfilesOfOneNameAreBothRefused) {
  bench::Folder folder;
  folder.write("profiles/copy.yaml", folder.text("profiles/button.yaml"));
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("profiles/copy.yaml:1:10: profile 'button' is in profiles/button.yaml "
                          "already; each has a name of its own"));
  EXPECT_THAT(whole_tubs(loaded), IsEmpty());
}

TEST(Broken, SeveralInOneAirWithoutALeaderAreRefusedByName) {
  bench::Folder folder;
  folder.spoil("chambers/closet.yaml", "leader: tub-2\n", "");
  std::string text = folder.text("tubs/tub-2.yaml");
  folder.write("tubs/tub-3.yaml", text.replace(text.find("tub-2"), 5, "tub-3"));
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("chambers/closet.yaml:1:10: several stand in one air, which keeps one "
                          "phase; name the leader; allowed: tub-2, tub-3"));
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("tub-2", "tub-3"));
}

}  // namespace
}  // namespace tubwarden
