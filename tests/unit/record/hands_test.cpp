// Hands, water and places in the record: what a restart goes on with.
#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

HandTaken hand(HandKind kind, const std::string& actuator, Duration lasts,
               const std::string& chamber = "tub-1") {
  HandTaken h;
  h.tub = "tub-1";
  h.chamber = chamber;
  h.batch = "B-01";
  h.kind = kind;
  h.actuator = actuator;
  h.level = kind == HandKind::trial ? kRun : kRest;
  h.lasts = lasts;
  h.text = "a hand for " + std::to_string(lasts / seconds(1)) + " s";
  return h;
}

HandEnded ended(HandKind kind, const std::string& actuator, const std::string& chamber = "tub-1") {
  return {"tub-1", chamber, "B-01", kind, actuator, "over"};
}

struct HandsTest : RecordTest {
  std::vector<HandOpen> open_hands() {
    auto hands = record->open_hands();
    if (!hands.ok()) throw std::runtime_error(hands.error().text);
    return *hands;
  }
  std::vector<PlacementRow> placements(const std::string& of) {
    return ask<std::vector<PlacementRow>>(
        [&](auto done) { record->placements(of, std::move(done)); });
  }
};

TEST_F(HandsTest, AHandThatHasNotEndedComesBackAsItWasTaken) {
  open_batch();
  append({{at(5), "maria", hand(HandKind::keep_at, "fan", minutes(30))}});
  reopen();
  const auto hands = open_hands();
  ASSERT_EQ(hands.size(), 1U);
  const HandTaken& h = hands[0].hand;
  EXPECT_EQ(h.tub, "tub-1");
  EXPECT_EQ(h.chamber, "tub-1");
  EXPECT_EQ(h.batch, "B-01");
  EXPECT_EQ(h.kind, HandKind::keep_at);
  EXPECT_EQ(h.actuator, "fan");
  EXPECT_EQ(h.level, kRest);
  EXPECT_EQ(h.lasts, minutes(30));
  EXPECT_EQ(h.text, "a hand for 1800 s");
  EXPECT_EQ(hands[0].stamp.wall, at(5).wall);
  EXPECT_EQ(hands[0].stamp.boot, at(5).boot);
  EXPECT_EQ(hands[0].stamp.boot_id, "boot-a");
}

TEST_F(HandsTest, AnEndedOrReplacedHandIsNotOpen) {
  open_batch();
  append({{at(1), "maria", hand(HandKind::attend, "", minutes(20))},
          {at(2), "maria", hand(HandKind::keep_at, "fan", minutes(30))},
          {at(3), "maria", hand(HandKind::trial, "fan", seconds(3))}});
  EXPECT_EQ(open_hands().size(), 3U) << "a kind and an output each is a place of its own";
  append({{at(4), "daemon", ended(HandKind::trial, "fan")}});
  ASSERT_EQ(open_hands().size(), 2U);
  append({{at(5), "maria", hand(HandKind::attend, "", minutes(40))}});
  const auto now = open_hands();
  ASSERT_EQ(now.size(), 2U);
  EXPECT_EQ(now[1].hand.lasts, minutes(40)) << "the new one takes the place of the old";
  append({{at(6), "daemon", ended(HandKind::attend, "")},
          {at(6), "daemon", ended(HandKind::keep_at, "mister")}});
  ASSERT_EQ(open_hands().size(), 1U) << "the end of another output's hand ends this one not";
  append({{at(7), "daemon", ended(HandKind::keep_at, "fan")},
          {at(8), "maria", hand(HandKind::keep_at, "fan", minutes(1), "closet")}});
  ASSERT_EQ(open_hands().size(), 1U);
  EXPECT_EQ(open_hands()[0].hand.chamber, "closet");
}

TEST_F(HandsTest, HandsAndWaterStandInTheTimeline) {
  open_batch();
  append({{at(1), "maria", hand(HandKind::attend, "", seconds(90))},
          {at(2), "daemon", ended(HandKind::attend, "")},
          {at(3), "maria", Watered{"tub-1", "tub-1", "B-01", 200.0}}});
  const auto rows = timeline();
  ASSERT_EQ(rows.size(), 6U);
  EXPECT_EQ(rows[3].kind, "hand");
  EXPECT_EQ(rows[3].text, "a hand for 90 s");
  EXPECT_EQ(rows[4].kind, "hand_end");
  EXPECT_EQ(rows[5].text, "watered with 200 mL");
  EXPECT_EQ(sqlite("select millilitres from watering").out, "200.0\n");
}

TEST_F(HandsTest, ThePlaceLastSeenInAFileComesBack) {
  open_batch();
  EXPECT_FALSE(tub().place_seen);
  EXPECT_EQ(append({{at(1), "file", PlaceSeen{"tub-1", "closet"}}})[0], 0) << "no entry";
  append({{at(2), "file", PlaceSeen{"tub-1", "tent"}}});
  reopen();
  EXPECT_EQ(tub().place_seen, "tent");
  EXPECT_EQ(timeline().size(), 3U);
}

TEST_F(HandsTest, PlacementsEndWithTheirEndOrTheNextPlacement) {
  open_batch();
  append({{at(10), "maria", Placed{"tub-1", "closet", "B-01"}}});
  append({{at(15), "maria", BatchOpened{"B-02", "button", "text"}},
          {at(15), "maria", Placed{"tub-2", "closet", "B-02"}}});
  append({{at(20), "file", leaves("tub-1", "B-01")},
          {at(30), "maria", Placed{"tub-1", "tub-1", "B-02"}}});
  const auto tub_1 = placements("tub-1");
  ASSERT_EQ(tub_1.size(), 3U);
  EXPECT_EQ(tub_1[0].chamber, "tub-1");
  EXPECT_EQ(tub_1[0].from.wall, at(0).wall);
  EXPECT_EQ(tub_1[0].to->wall, at(10).wall);
  EXPECT_EQ(tub_1[1].chamber, "closet");
  EXPECT_EQ(tub_1[1].to->wall, at(20).wall);
  EXPECT_EQ(tub_1[2].batch, "B-02");
  EXPECT_FALSE(tub_1[2].to);
  const auto second = placements("B-02");
  ASSERT_EQ(second.size(), 2U) << "a batch in two tubs";
  EXPECT_EQ(second[0].tub, "tub-2");
  EXPECT_EQ(second[1].tub, "tub-1");
  EXPECT_TRUE(placements("tub-9").empty());
}

TEST_F(HandsTest, AnAlertOfAnAirIsOfABatchThatStillStandsThere) {
  open_batch();
  append({{at(1), "maria", Placed{"tub-1", "closet", "B-01"}},
          {at(2), "maria", Placed{"tub-1", "tent", "B-01"}},
          {at(3), "daemon", AlertNoted{"closet", "co2_high", true, "stuffy"}}});
  EXPECT_NE(timeline().back().kind, "alert") << "the tub has left the closet";
  append({{at(4), "daemon", AlertNoted{"tent", "co2_high", true, "stuffy"}}});
  EXPECT_EQ(timeline().back().kind, "alert");
}

TEST_F(HandsTest, HandsAndWaterCannotBeChanged) {
  open_batch();
  append({{at(1), "maria", hand(HandKind::attend, "", seconds(90))},
          {at(2), "daemon", ended(HandKind::attend, "")},
          {at(3), "maria", Watered{"tub-1", "tub-1", "B-01", 200.0}}});
  record->clock_set(at(4));
  record->close();
  for (const char* table : {"hand", "hand_end", "watering", "boot_clock"}) {
    ASSERT_EQ(sqlite("select count(*) from " + std::string(table)).out, "1\n") << table;
    EXPECT_NE(sqlite("delete from " + std::string(table)).status, 0) << table;
  }
  EXPECT_NE(sqlite("update hand set lasts_ns=1").status, 0);
}

}  // namespace
