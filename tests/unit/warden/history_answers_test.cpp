// What the control socket answers of the past: stays, readings in pieces, decisions, and why at a
// moment.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"
#include "fakes.hpp"

namespace {

using namespace fakes;
using nlohmann::json;
using testing::HasSubstr;

struct Past : testing::Test {
  Rig r;
  const WallTime begin = r.clock.wall_at;

  void SetUp() override {
    r.adopt(Rig::loaded("fruiting"));
    r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
    r.clock.pass(hours(24));
  }
  Stamp at(Duration after, bool set = true) const {
    return {begin + duration_cast<milliseconds>(after), set, "boot-a", Instant(hours(1) + after)};
  }
  std::string told(Duration after) const { return rfc3339(at(after).wall); }
  static json parsed(const std::shared_ptr<Rig::Answer>& answer) {
    EXPECT_FALSE(answer->error) << (answer->error ? answer->error->text : "");
    return answer->json;
  }
  static std::string refused(const std::shared_ptr<Rig::Answer>& answer) {
    return answer->error ? answer->error->text : "";
  }
  std::shared_ptr<Rig::Answer> history(Duration from, Duration to, double every_s = 0) {
    return r.ask(
        "history",
        {{"chamber", "tub-1"}, {"from", told(from)}, {"to", told(to)}, {"every_s", every_s}});
  }
  void keep(const std::string& sensor, Quantity q, Duration from, Duration every, int count) {
    HistorySeries series{"tub-1", sensor, q, {}};
    for (int i = 0; i < count; ++i) {
      series.points.push_back({at(from + i * every).wall, 80.0, 80.0 + i, 80.0, 1});
    }
    r.record.kept["tub-1"].series.push_back(series);
  }
  void decide(const std::string& id, Duration after, Level level, const std::string& why) {
    r.record.decided.push_back({"tub-1", id, level, why, at(after)});
  }
};

TEST_F(Past, StaysOfATubAreItsPlacements) {
  r.record.placed = {{"tub-1", "tub-1", "B-01", at(Duration{0}), at(hours(5))},
                     {"tub-1", "closet", "B-01", at(hours(5)), std::nullopt}};
  const json answer = parsed(r.ask("stays", {{"of", "tub-1"}}));
  EXPECT_EQ(answer["kind"], "tub");
  ASSERT_EQ(answer["stays"].size(), 2U);
  EXPECT_EQ(answer["stays"][0]["chamber"], "tub-1");
  EXPECT_EQ(answer["stays"][0]["to"], told(hours(5)));
  EXPECT_EQ(answer["stays"][1]["from"], told(hours(5)));
  EXPECT_TRUE(answer["stays"][1]["to"].is_null());
  EXPECT_EQ(answer["untimed"], 0);
}

TEST_F(Past, AStayWithoutAKnownTimeIsCountedAndLeftOut) {
  r.record.placed = {{"tub-1", "tub-1", "B-01", at(Duration{0}, false), at(hours(5))},
                     {"tub-1", "closet", "B-01", at(hours(5)), std::nullopt}};
  const json answer = parsed(r.ask("stays", {{"of", "B-01"}}));
  EXPECT_EQ(answer["kind"], "batch");
  EXPECT_EQ(answer["stays"].size(), 1U);
  EXPECT_EQ(answer["untimed"], 1);
}

TEST_F(Past, WhatWasNeverPlacedIsAnAirOrNothing) {
  const json air = parsed(r.ask("stays", {{"of", "tub-1"}}));
  EXPECT_EQ(air["kind"], "chamber");
  EXPECT_EQ(air["stays"][0]["chamber"], "tub-1");
  EXPECT_TRUE(air["stays"][0]["from"].is_null());
  const std::string error = refused(r.ask("stays", {{"of", "tub1"}}));
  EXPECT_THAT(error, HasSubstr("no tub, batch or chamber is called 'tub1' (nearest: tub-1)"));
  EXPECT_THAT(error, HasSubstr("tubwarden batch list"));
}

TEST_F(Past, ReadingsAndRunsAsTheyWereKept) {
  keep("air", Quantity::humidity, hours(1), seconds(10), 3);
  r.record.kept["tub-1"].series[0].points[1] = {at(hours(1) + seconds(10)).wall, 79.5, 80.254, 81.0,
                                                7};
  r.record.kept["tub-1"].runs = {{"tub-1", "mister", kRun, at(hours(1)), seconds(4)}};
  r.record.kept["tub-1"].unplaced = 12;
  const json answer = parsed(history(hours(1), hours(2)));
  EXPECT_TRUE(answer["next"].is_null());
  ASSERT_EQ(answer["series"].size(), 1U);
  EXPECT_EQ(answer["series"][0]["quantity"], "humidity");
  EXPECT_EQ(answer["series"][0]["sensor"], "air");
  EXPECT_EQ(answer["series"][0]["points"],
            json::array({{told(hours(1)), 80.0},
                         {told(hours(1) + seconds(10)), 79.5, 80.25, 81.0, 7},
                         {told(hours(1) + seconds(20)), 82.0}}));
  EXPECT_EQ(answer["runs"], json::array({{{"id", "mister"},
                                          {"level_pct", 100.0},
                                          {"began", told(hours(1))},
                                          {"lasted_s", 4.0},
                                          {"now", false}}}));
  EXPECT_EQ(answer["unplaced"], 12);
}

TEST_F(Past, ALongAnswerComesInPiecesAndNothingTwice) {
  keep("air", Quantity::humidity, hours(1), seconds(1), 14'000);
  keep("bed", Quantity::substrate_temperature, hours(1), seconds(1), 14'000);
  std::size_t points = 0, pieces = 0;
  std::string from = told(hours(1));
  while (!from.empty()) {
    const json answer = parsed(r.ask(
        "history", {{"chamber", "tub-1"}, {"from", from}, {"to", told(hours(6))}, {"every_s", 0}}));
    std::size_t here = 0;
    for (const json& series : answer["series"]) here += series["points"].size();
    EXPECT_LE(here, 10'000U);
    points += here;
    ++pieces;
    from = answer["next"].is_null() ? "" : answer["next"].get<std::string>();
    ASSERT_LT(pieces, 10U);
  }
  EXPECT_EQ(points, 28'000U);
  EXPECT_EQ(pieces, 3U);
}

TEST_F(Past, ManyRunsCountInTheLengthOfAnAnswer) {
  for (int i = 0; i < 10'500; ++i) {
    r.record.kept["tub-1"].runs.push_back(
        {"tub-1", "mister", kRun, at(hours(1) + seconds(i)), milliseconds(500)});
  }
  const json answer = parsed(history(hours(1), hours(6)));
  EXPECT_EQ(answer["next"], told(hours(1) + seconds(10'000)));
  EXPECT_EQ(answer["runs"].size(), 10'000U);
}

TEST_F(Past, TooMuchAtOnceIsRefusedWithTheWayOut) {
  r.record.kept["tub-1"].cut = true;
  const auto answer = history(hours(1), hours(2));
  EXPECT_EQ(answer->error->code, ErrorCode::refused);
  EXPECT_THAT(refused(answer), HasSubstr("ask for a shorter one"));
}

TEST_F(Past, TheRunThatGoesOnIsAmongThem) {
  r.up();
  r.pass(seconds(5));
  r.reading("60");
  r.clock.pass(seconds(20));
  const json running = parsed(history(hours(1), hours(25)))["runs"];
  ASSERT_EQ(running.size(), 1U);
  EXPECT_EQ(running[0]["id"], "mister");
  EXPECT_EQ(running[0]["now"], true);
  EXPECT_EQ(running[0]["lasted_s"], 20.0);
  EXPECT_TRUE(parsed(history(hours(1), hours(2)))["runs"].empty()) << "it began later";
}

TEST_F(Past, HistoryRefusesWhatItCannotAsk) {
  EXPECT_THAT(refused(history(hours(2), hours(1))), HasSubstr("from comes before to"));
  EXPECT_THAT(refused(history(hours(1), hours(1))), HasSubstr("from comes before to"));
  EXPECT_THAT(refused(history(hours(1), hours(2), -1)), HasSubstr("every_s"));
  EXPECT_THAT(refused(history(hours(1), hours(2), 0.5)), HasSubstr("every_s"));
  EXPECT_THAT(refused(history(hours(0), hours(10'001), 3600)), HasSubstr("at most 10000"));
  EXPECT_EQ(refused(history(hours(0), hours(10'000), 3600)), "");
  EXPECT_THAT(refused(r.ask("history", {{"chamber", "tub-1"}, {"from", "noon"}, {"to", "now"}})),
              HasSubstr("RFC 3339"));
  EXPECT_THAT(refused(r.ask("history", {{"from", told(hours(1))}, {"to", told(hours(2))}})),
              HasSubstr("the air's name"));
  ASSERT_EQ(r.record.asked.size(), 1U);
  EXPECT_EQ(r.record.asked[0].width, hours(1));
}

TEST_F(Past, TheLastDecisionsNewestFirst) {
  r.record.decided.clear();
  decide("mister", hours(1), kRun, "started just now: dry.");
  decide("fan", hours(2), kRun, "started just now: stuffy.");
  decide("mister", hours(3), kRest, "came to rest just now: damp.");
  const json all = parsed(r.ask("decisions", {{"tub", "tub-1"}}))["rows"];
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0], (json{{"at", told(hours(3))},
                          {"clock_set", true},
                          {"id", "mister"},
                          {"level_pct", 0.0},
                          {"why", "came to rest just now: damp."}}));
  const json some =
      parsed(r.ask("decisions", {{"tub", "tub-1"}, {"actuator", "mister"}, {"limit", 1}}))["rows"];
  ASSERT_EQ(some.size(), 1U);
  EXPECT_EQ(some[0]["at"], told(hours(3)));
  EXPECT_THAT(refused(r.ask("decisions", {{"tub", "tub-1"}, {"actuator", "mistr"}})),
              HasSubstr("nearest: mister"));
  for (const json& wrong : {json(0), json(501)}) {
    EXPECT_THAT(refused(r.ask("decisions", {{"tub", "tub-1"}, {"limit", wrong}})),
                HasSubstr("allowed are 1 to 500"));
  }
}

struct Then : Past {
  void SetUp() override {
    Past::SetUp();
    r.record.decided.clear();
    r.record.placed = {{"tub-1", "closet", "B-01", at(Duration{0}), at(hours(5))},
                       {"tub-1", "tub-1", "B-01", at(hours(5)), std::nullopt}};
    r.record.phased = {{"tub-1", "B-00", "fruiting", at(Duration{0})},
                       {"tub-1", "B-01", "casing", at(hours(1))},
                       {"tub-1", "B-01", "fruiting", at(hours(8))}};
    keep("air", Quantity::humidity, hours(7), seconds(10), 500);
    decide("mister", hours(6), kRun, "one");
    decide("mister", hours(7), kRest, "two");
    decide("mister", hours(9), kRun, "three");
  }
  std::shared_ptr<Rig::Answer> why(Duration after) {
    return r.ask("why_at", {{"tub", "tub-1"}, {"at", told(after)}});
  }
};

TEST_F(Then, WhyAtAMomentJoinsPlacePhaseAirAndDecision) {
  const json answer = parsed(why(hours(7) + seconds(25)));
  EXPECT_EQ(answer["chamber"], "tub-1");
  EXPECT_EQ(answer["batch"], "B-01");
  EXPECT_EQ(answer["phase"], "casing");
  EXPECT_EQ(answer["phase_since"], told(hours(1)));
  ASSERT_EQ(answer["air"].size(), 1U);
  EXPECT_EQ(answer["air"][0]["value"], 82.0);
  EXPECT_EQ(answer["air"][0]["age_s"], 5.0);
  ASSERT_EQ(answer["lines"].size(), 1U);
  EXPECT_EQ(answer["lines"][0]["why"], "two");
  EXPECT_EQ(parsed(why(hours(7)))["lines"][0]["why"], "two") << "at its very moment it holds";
  EXPECT_EQ(parsed(why(hours(8)))["phase"], "fruiting");
  EXPECT_TRUE(parsed(why(hours(10)))["air"].empty()) << "nothing was read in the ten minutes";
}

TEST_F(Then, AnAirThatHasLeftTheConfigurationIsTakenFromItsDecisions) {
  const json answer = parsed(why(hours(4)));
  EXPECT_EQ(answer["chamber"], "closet");
  EXPECT_TRUE(answer["lines"].empty());
  r.record.decided.insert(r.record.decided.begin(),
                          {{"closet", "fan", kRun, "old", at(hours(2))},
                           {"closet", "fan", kRest, "new", at(hours(3))}});
  EXPECT_EQ(parsed(why(hours(4)))["lines"].size(), 1U);
  EXPECT_EQ(parsed(why(hours(4)))["lines"][0]["why"], "new");
}

TEST_F(Then, MomentsOutsideTheRecordAreRefused) {
  r.record.placed[0].from = at(hours(1));
  EXPECT_THAT(refused(why(minutes(30))), HasSubstr("tub-1 stood nowhere at"));
  EXPECT_THAT(refused(why(minutes(30))), HasSubstr("its record begins at " + told(hours(1))));
  EXPECT_THAT(refused(why(hours(25))), HasSubstr("still to come"));
  EXPECT_THAT(refused(r.ask("why_at", {{"tub", "tub-1"}, {"at", "14:30"}})), HasSubstr("RFC 3339"));
}

}  // namespace
