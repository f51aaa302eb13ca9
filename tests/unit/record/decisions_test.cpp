// Decisions beside the readings: the newest first, of one output or of all, before a moment.
#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

struct DecisionsTest : RecordTest {
  void decide(const std::string& actuator, std::int64_t minute, const std::string& why,
              const std::string& chamber = "tub-1") {
    record->decision({chamber, actuator, kRun, why, at(minute)});
  }
  std::vector<DecisionRow> decisions(const std::string& actuator, std::size_t limit = 50,
                                     std::optional<WallTime> before = {}) {
    return ask<std::vector<DecisionRow>>(
        [&](auto done) { record->decisions("tub-1", actuator, before, limit, std::move(done)); });
  }
  std::vector<std::string> sentences(const std::string& actuator, std::size_t limit = 50,
                                     std::optional<WallTime> before = {}) {
    std::vector<std::string> all;
    for (const auto& row : decisions(actuator, limit, before)) all.push_back(row.why);
    return all;
  }
};

using Sentences = std::vector<std::string>;

TEST_F(DecisionsTest, TheNewestComeFirstWithAllThatWasSaid) {
  decide("mister", 1, "too dry");
  record->decision({"tub-1", "mister", 250, "dry enough", at(2)});
  const auto rows = decisions("mister");
  ASSERT_EQ(rows.size(), 2U);
  EXPECT_EQ(rows[0].why, "dry enough");
  EXPECT_EQ(rows[0].level, 250U);
  EXPECT_EQ(rows[0].chamber, "tub-1");
  EXPECT_EQ(rows[0].actuator, "mister");
  EXPECT_EQ(rows[0].stamp.wall, at(2).wall);
  EXPECT_TRUE(rows[0].stamp.wall_set);
  EXPECT_EQ(rows[0].stamp.boot, at(2).boot);
  EXPECT_EQ(rows[0].stamp.boot_id, "boot-a");
  EXPECT_EQ(rows[1].why, "too dry");
}

TEST_F(DecisionsTest, OfOneOutputOrOfAllOfAnAir) {
  decide("mister", 1, "m1");
  decide("fan", 2, "f2");
  decide("mister", 3, "m3");
  decide("fan", 3, "of another air", "tub-2");
  EXPECT_EQ(sentences(""), (Sentences{"m3", "f2", "m1"}));
  EXPECT_EQ(sentences("fan"), (Sentences{"f2"}));
  EXPECT_TRUE(sentences("heater").empty());
  EXPECT_EQ(sentences("", 2), (Sentences{"m3", "f2"}));
}

TEST_F(DecisionsTest, BeforeAMoment) {
  for (int minute : {1, 2, 3}) decide("fan", minute, std::to_string(minute));
  EXPECT_EQ(sentences("fan", 1, at(3).wall), (Sentences{"2"})) << "the moment itself is not before";
  EXPECT_EQ(sentences("fan", 1, at(3).wall + milliseconds(1)), (Sentences{"3"}));
  EXPECT_TRUE(sentences("fan", 1, at(1).wall).empty());
  EXPECT_EQ(sentences("fan", 50, WallTime::max()).size(), 3U);
  EXPECT_TRUE(sentences("fan", 50, WallTime::min()).empty());
}

TEST_F(DecisionsTest, TwoOfOneMomentBothStayTheLastIsTheNewest) {
  decide("fan", 1, "first");
  decide("fan", 1, "second");
  EXPECT_EQ(sentences("fan"), (Sentences{"second", "first"}));
}

TEST_F(DecisionsTest, TheySurviveAStartAndGoOnAcrossBoots) {
  decide("fan", 1, "of the first boot");
  reopen("boot-b");
  record->decision(
      {"tub-1", "fan", kRest, "of the second", {at(9).wall, true, "boot-b", Instant(seconds(1))}});
  EXPECT_EQ(sentences("fan"), (Sentences{"of the second", "of the first boot"}));
  EXPECT_EQ(sentences("fan", 1), (Sentences{"of the second"}));
  EXPECT_EQ(sentences("fan", 9, at(9).wall), (Sentences{"of the first boot"}));
}

TEST_F(DecisionsTest, OneMadeBeforeTheClockWasSetIsMended) {
  record->decision({"tub-1", "fan", kRest, "early", {WallTime{}, false, "boot-a", at(1).boot}});
  EXPECT_FALSE(decisions("fan").at(0).stamp.wall_set);
  EXPECT_TRUE(sentences("fan", 9, WallTime::max()).empty()) << "before what, cannot be told";
  record->clock_set(at(5));
  EXPECT_EQ(decisions("fan").at(0).stamp.wall, at(1).wall);
  EXPECT_TRUE(decisions("fan").at(0).stamp.wall_set);
  EXPECT_EQ(sentences("fan", 9, at(2).wall), (Sentences{"early"}));
}

}  // namespace
