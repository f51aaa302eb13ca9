// Two tubs in one air: moved in and out by command and by file, kept over a kill, and their climate
// as the join of where they stood with what those airs did.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <sstream>

#include "rig.hpp"

namespace {

using namespace rig;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

std::string closet_text(const std::string& leader) {
  return "chamber: closet\nleader: " + leader + R"(
net_volume: 600 L
sensors:
  - id: air
    topic: shed/closet/air
    humidity: {at: /rh}
    temperature: {at: /t, place: air}
    stale_after: 2m
actuators:
  - id: mister
    effect: humidify
    rate: 200 g/h
    driver: mqtt_relay
    wiring: {topic: shed/closet/mister, run: "1", rest: "0"}
    safe: rest
    lease: 3s
    falls_by_itself_after: 10s
    limits: {shortest_run: 1s, shortest_rest: 200ms, longest_run: 60s, starts_per_hour: 60}
)";
}

struct TwoTubs : Rig, ::testing::Test {
  void SetUp() override {
    write_closet("tub-2");
    write_tub({});
    folder().write(config("tubs/tub-2.yaml"),
                   "tub: tub-2\nbatch: B-02\nprofile: button\nphase: casing\nstands_in: closet\n");
    start();
    ask({"phase", "tub-1", "fruiting"});
    ask({"phase", "tub-2", "casing"});
  }
  void write_closet(const std::string& leader) {
    folder().write(config("chambers/closet.yaml"), closet_text(leader));
  }
  std::string stands_in(const std::string& id) { return tub(id)["chamber"]; }
  std::string why(const std::string& air) { return actuator(air, "mister")["why"]; }
  /// The humidities of a history, in order.
  std::vector<std::string> humidities(const std::string& of) {
    const parts::Ran ran = cli({"history", of, "--csv"});
    EXPECT_EQ(ran.status, 0) << ran.err;
    std::vector<std::string> found;
    std::istringstream lines(ran.out);
    std::string line;
    std::getline(lines, line);
    EXPECT_EQ(line,
              "time,tub,batch,chamber,sensor,humidity_pct,temperature_c,substrate_c,co2_ppm\r");
    while (std::getline(lines, line)) {
      std::istringstream cells(line);
      std::vector<std::string> row;
      for (std::string cell; std::getline(cells, cell, ',');) row.push_back(cell);
      found.push_back(row.at(3) + " " + row.at(5));
    }
    return found;
  }
  std::vector<std::string> texts(const std::string& batch) {
    std::vector<std::string> all;
    for (const json& row : timeline(batch)) all.push_back(row["text"]);
    return all;
  }
};

TEST_F(TwoTubs, OneMovesInAndOutAgainAndTheRecordSaysSo) {
  EXPECT_EQ(
      ask({"move", "tub-1", "closet"})["text"],
      "tub-1 stands in closet now, no longer in its own air; the air keeps the phase of tub-2 "
      "(casing); nobody stands in tub-1 now, its outputs stay safe");
  EXPECT_EQ(stands_in("tub-1"), "closet");
  EXPECT_EQ(tub("tub-1")["note"], "file says it stands in its own air, record says closet");
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  EXPECT_EQ(chamber("closet")["leader"], "tub-2");
  EXPECT_THAT(why("tub-1"), HasSubstr("nobody stands in this air"));

  const parts::Ran leader = cli({"move", "tub-2", "tub-1"});
  EXPECT_EQ(leader.status, 1);
  EXPECT_THAT(leader.err, HasSubstr("another tub's own air"));

  ask({"move", "tub-1", "tub-1"});
  EXPECT_EQ(stands_in("tub-1"), "tub-1");
  EXPECT_EQ(tub("tub-1")["note"], "");
  EXPECT_THAT(texts("B-01"),
              ElementsAre("batch B-01 opened with profile button", "tub-1 stands in its own air",
                          "phase fruiting begins, flush 1", "tub-1 leaves its own air",
                          "tub-1 stands in chamber closet", "tub-1 leaves chamber closet",
                          "tub-1 stands in its own air"));
}

TEST_F(TwoTubs, AKillAndARestartKeepThePlaceAndTheUnchangedFileIsNoEvent) {
  ask({"move", "tub-1", "closet"});
  daemon().signal(SIGKILL);
  ASSERT_TRUE(daemon().wait(5s));
  start();
  EXPECT_EQ(stands_in("tub-1"), "closet");
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  EXPECT_THAT(alert_causes("tub-1"), Not(Contains("place_unconfirmed")));
  const std::size_t entries = texts("B-01").size();

  // The file catches up: remembered, and no entry.
  folder().write(config("tubs/tub-1.yaml"),
                 "tub: tub-1\nbatch: B-01\nprofile: button\nphase: fruiting\nstands_in: closet\n");
  ASSERT_TRUE(wait([&] { return tub("tub-1")["note"] == ""; })) << log();
  EXPECT_EQ(texts("B-01").size(), entries);
  EXPECT_EQ(stands_in("tub-1"), "closet");

  // Edited on to a third place: an event.
  write_tub({});
  ASSERT_TRUE(wait([&] { return stands_in("tub-1") == "tub-1"; })) << log();
  EXPECT_EQ(texts("B-01").back(), "tub-1 stands in its own air");
  EXPECT_EQ(timeline("B-01").back()["who"], "file");
}

TEST_F(TwoTubs, ALeaderStaysUntilAnotherIsNamed) {
  ask({"move", "tub-1", "closet"});
  folder().write(config("chambers/tent.yaml"),
                 "chamber: tent\nnet_volume: 100 L\nsensors: []\nactuators: []\n");
  ASSERT_TRUE(wait([&] { return status()["chambers"].size() == 3; })) << log();
  const parts::Ran refused = cli({"move", "tub-2", "tent"});
  EXPECT_EQ(refused.status, 1);
  EXPECT_THAT(refused.err, HasSubstr("name another leader in chambers/closet.yaml first"));
  write_closet("tub-1");
  ASSERT_TRUE(wait([&] { return chamber("closet")["leader"] == "tub-1"; })) << log();
  EXPECT_EQ(chamber("closet")["phase"], "fruiting");
  EXPECT_EQ(cli({"move", "tub-2", "tent"}).status, 0);
  EXPECT_EQ(chamber("tent")["phase"], "casing");
}

TEST_F(TwoTubs, ClimateIsTheJoinOfPlacementsAndTheAirsHistory) {
  air("closet", 61);
  air("tub-1", 71);
  ask({"move", "tub-1", "closet"});
  air("closet", 62);
  air("tub-1", 72);
  daemon().signal(SIGTERM);
  ASSERT_TRUE(daemon().wait(10s));
  start();
  air("closet", 63);
  ask({"move", "tub-1", "tub-1"});
  air("closet", 64);
  air("tub-1", 73);

  EXPECT_THAT(humidities("tub-1"), ElementsAre("tub-1 71", "closet 62", "closet 63", "tub-1 73"));
  EXPECT_EQ(humidities("B-01"), humidities("tub-1"));
  EXPECT_THAT(humidities("tub-2"), ElementsAre("closet 61", "closet 62", "closet 63", "closet 64"));
  EXPECT_EQ(humidities("closet"), humidities("tub-2"));

  const json whole = ask({"history", "tub-1"});
  ASSERT_EQ(whole["stays"].size(), 3U);
  EXPECT_EQ(whole["stays"][1]["chamber"], "closet");
  EXPECT_EQ(whole["stays"][0]["to"], whole["stays"][1]["from"]);
  const parts::Ran page = cli({"history", "tub-1"});
  EXPECT_THAT(page.out, HasSubstr("in its own air, batch B-01"));
  EXPECT_THAT(page.out, HasSubstr("in closet, batch B-01"));
  const parts::Ran nothing = cli({"history", "tub-9"});
  EXPECT_EQ(nothing.status, 1);
  EXPECT_THAT(nothing.err, HasSubstr("no tub, batch or chamber is called 'tub-9'"));
}

TEST_F(TwoTubs, WaterIsNotedAndReadInTheTimeLine) {
  EXPECT_EQ(ask({"water", "tub-1", "200", "mL"})["text"], "tub-1: watered with 200 mL");
  EXPECT_EQ(texts("B-01").back(), "watered with 200 mL");
  EXPECT_EQ(cli({"water", "tub-1", "a cup"}).status, 2);
  EXPECT_EQ(cli({"water", "tub-9", "1 L"}).status, 1);
}

TEST_F(TwoTubs, TheSocketsCountersStandInTheStatus) {
  const json before = status()["control"];
  EXPECT_GE(before["clients"].get<int>(), 1) << "the one that asks";
  status();
  EXPECT_GT(status()["control"]["requests"].get<int>(), before["requests"].get<int>());
}

TEST_F(TwoTubs, WhyLooksBack) {
  air("tub-1", 84);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 100.0; })) << log();
  air("tub-1", 88);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 0.0; })) << log();
  const json rows = ask({"why", "tub-1", "mister", "--last", "3"})["rows"];
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_EQ(rows[0]["level_pct"], 0.0);
  EXPECT_THAT(rows[1]["why"].get<std::string>(), HasSubstr("its shortest run holds it"));
  EXPECT_EQ(rows[2]["level_pct"], 100.0);
  EXPECT_THAT(rows[2]["why"].get<std::string>(), HasSubstr("humidity is 84 %"));

  const json then = ask({"why", "tub-1", "mister", "--at", rows[2]["at"]});
  EXPECT_EQ(then["phase"], "fruiting");
  EXPECT_EQ(then["lines"], json::array({rows[2]}));
  bool read = false;
  for (const json& quantity : then["air"]) read = read || quantity["value"] == 84.0;
  EXPECT_TRUE(read) << then.dump(1);
  EXPECT_THAT(cli({"why", "tub-1", "--at", "1h"}).err, HasSubstr("its record begins at"));
  const json runs = ask({"history", "tub-1"})["runs"];
  ASSERT_EQ(runs.size(), 1U);
  EXPECT_EQ(runs[0]["id"], "mister");
}

}  // namespace
