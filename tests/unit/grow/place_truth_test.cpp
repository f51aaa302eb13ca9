// Place truth is the record: every verdict over a file's place, who leads an air, and which moves
// are refused.
#include <gtest/gtest.h>

#include "core/grow/place_truth.hpp"

namespace tubwarden {
namespace {

TEST(PlaceTruth, EveryVerdict) {
  using V = PlaceVerdict;
  struct Case {
    const char* what;
    std::optional<PlaceKnown> known;
    const char* file;
    V verdict;
  };
  const Case cases[] = {
      {"no placement", std::nullopt, "closet", V::unplaced},
      {"as it was", PlaceKnown{"closet", "closet"}, "closet", V::nothing},
      {"moved by command, the file did not change", PlaceKnown{"tub-1", "closet"}, "closet",
       V::nothing},
      {"the file catches up with the command", PlaceKnown{"tub-1", "closet"}, "tub-1", V::seen},
      {"first seen, and it agrees", PlaceKnown{"closet", std::nullopt}, "closet", V::seen},
      {"first seen, and it disagrees", PlaceKnown{"closet", std::nullopt}, "tub-1", V::ask},
      {"edited", PlaceKnown{"closet", "closet"}, "tub-1", V::move},
      {"edited to a third place after a command", PlaceKnown{"tub-1", "closet"}, "tent", V::move},
      {"edited back to where the command had moved it from", PlaceKnown{"tent", "tub-1"}, "closet",
       V::move},
  };
  for (const Case& c : cases) EXPECT_EQ(judge_place(c.known, c.file), c.verdict) << c.what;
}

TEST(PlaceTruth, WhoLeads) {
  EXPECT_EQ(leader_of({"closet", "tub-2", {"tub-1", "tub-2"}}), "tub-2");
  EXPECT_EQ(leader_of({"closet", "tub-2", {"tub-1"}}), "tub-1") << "the leader stands elsewhere";
  EXPECT_EQ(leader_of({"closet", "", {"tub-1"}}), "tub-1");
  EXPECT_EQ(leader_of({"closet", "tub-2", {"tub-1", "jars"}}), "") << "the leader is away";
  EXPECT_EQ(leader_of({"closet", "", {"tub-1", "jars"}}), "") << "two phases, none is named";
  EXPECT_EQ(leader_of({"closet", "tub-2", {}}), "") << "nobody stands there";
  EXPECT_EQ(leader_of({"closet", "", {}}), "");
}

TEST(PlaceTruth, WhichMovesAreRefused) {
  using V = MoveVerdict;
  struct Case {
    const char* what;
    Standing from, to;
    bool own_air;
    V verdict;
  };
  const Standing alone{"tub-1", "tub-1", {"tub-1"}};
  const Standing nowhere{"gone", "", {}};
  const Standing tent{"tent", "", {}};
  const Standing led{"closet", "tub-2", {"tub-2"}};
  const Case cases[] = {
      {"into an air with a named leader", alone, led, false, V::moves},
      {"into an empty air without one", alone, tent, false, V::moves},
      {"out of an air that has left the configuration", nowhere, tent, false, V::moves},
      {"where it stands", alone, alone, true, V::stays},
      {"back into its own air",
       {"closet", "tub-2", {"tub-2", "tub-1"}},
       {"tub-1", "tub-1", {}},
       true,
       V::moves},
      {"into another tub's own air", alone, {"tub-3", "tub-3", {}}, true, V::not_its_own},
      {"the named leader leaves others behind",
       {"closet", "tub-1", {"tub-1", "jars"}},
       tent,
       false,
       V::leads_others},
      {"the named leader leaves, alone", {"closet", "tub-1", {"tub-1"}}, tent, false, V::moves},
      {"one that does not lead leaves",
       {"closet", "jars", {"tub-1", "jars"}},
       tent,
       false,
       V::moves},
      {"one leaves an air that nobody leads",
       {"closet", "", {"tub-1", "jars"}},
       tent,
       false,
       V::moves},
      {"as the second, and no leader is named",
       alone,
       {"tent", "", {"jars"}},
       false,
       V::leader_needed},
      {"as the second, and the named leader is elsewhere",
       alone,
       {"closet", "tub-2", {"jars"}},
       false,
       V::leader_needed},
      {"as the second, being the named leader itself",
       alone,
       {"closet", "tub-1", {"jars"}},
       false,
       V::moves},
      {"as the only one, and the named leader is elsewhere",
       alone,
       {"closet", "tub-2", {}},
       false,
       V::moves},
      {"as the third, beside the named leader",
       alone,
       {"closet", "tub-2", {"jars", "tub-2"}},
       false,
       V::moves},
  };
  for (const Case& c : cases) {
    EXPECT_EQ(judge_move("tub-1", c.from, c.to, c.own_air), c.verdict) << c.what;
  }
}

}  // namespace
}  // namespace tubwarden
