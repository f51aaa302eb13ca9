// Moves in the record: what the time line says of them, what a restart finds, and which phases a
// tub and a batch went through.
#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

struct MovesTest : RecordTest {
  std::vector<PhaseRow> phases(const std::string& of) {
    return ask<std::vector<PhaseRow>>([&](auto done) { record->phases(of, std::move(done)); });
  }
};

TEST_F(MovesTest, AMoveIsTwoEntriesAndTheBatchGoesOn) {
  open_batch();
  append({{at(10), "maria", PlacementEnded{"tub-1", "B-01", "tub-1"}},
          {at(10), "maria", PlaceSeen{"tub-1", "tub-1"}},
          {at(10), "maria", Placed{"tub-1", "closet", "B-01"}}});
  reopen();
  EXPECT_EQ(tub().chamber, "closet");
  EXPECT_EQ(tub().phase, "colonization");
  EXPECT_EQ(tub().since.wall, at(0).wall);
  EXPECT_EQ(tub().place_seen, "tub-1");
  const auto rows = timeline();
  ASSERT_EQ(rows.size(), 5U);
  EXPECT_EQ(rows[3].text, "tub-1 leaves its own air");
  EXPECT_EQ(rows[4].text, "tub-1 stands in chamber closet");
  append({{at(20), "file", PlacementEnded{"tub-1", "B-01", "closet"}},
          {at(20), "file", Placed{"tub-1", "tub-1", "B-01"}}});
  EXPECT_EQ(timeline()[5].text, "tub-1 leaves chamber closet");
  EXPECT_EQ(timeline()[6].text, "tub-1 stands in its own air");
}

TEST_F(MovesTest, PhasesOfATubAndOfABatchAreThereInOrder) {
  open_batch();
  append({{at(10), "file", change("colonization", "casing", PhaseCause::file)}});
  append({{at(20), "maria", BatchOpened{"B-02", "button", "text"}},
          {at(20), "maria", Placed{"tub-2", "closet", "B-02"}}});
  PhaseTransition other = change("", "grain", PhaseCause::opened);
  other.tub = "tub-2";
  other.batch = "B-02";
  append({{at(20), "maria", other}});
  const auto tub_1 = phases("tub-1");
  ASSERT_EQ(tub_1.size(), 2U);
  EXPECT_EQ(tub_1[0].phase, "colonization");
  EXPECT_EQ(tub_1[0].since.wall, at(0).wall);
  EXPECT_EQ(tub_1[1].phase, "casing");
  EXPECT_EQ(tub_1[1].batch, "B-01");
  ASSERT_EQ(phases("B-02").size(), 1U);
  EXPECT_EQ(phases("B-02")[0].tub, "tub-2");
  EXPECT_TRUE(phases("B-09").empty());
}

}  // namespace
