// Where tubs stand: the record's word against the files', moves and their refusals, and what an air
// does that is left or that nobody leads.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace {

using namespace fakes;
using nlohmann::json;
using testing::HasSubstr;

ChamberPlan air_of(const std::string& id, const std::string& leader) {
  ChamberPlan chamber = Rig::loaded("fruiting").grow.chambers[0];
  chamber.id = id;
  chamber.leader = leader;
  chamber.leader_named = !leader.empty();
  chamber.sensors[0].topic = "shed/" + id + "/air";
  chamber.actuators[0].output.id = {id, "mister"};
  return chamber;
}

TubPlan tub_in(const std::string& id, const std::string& chamber, const std::string& batch) {
  TubPlan tub = Rig::loaded("fruiting", batch).grow.tubs[0];
  tub.id = id;
  tub.chamber = chamber;
  return tub;
}

/// tub-1 in its own air; tub-2 leads the closet; a tent that nobody is named to lead.
struct Airs {
  std::string tub_1 = "tub-1", tub_2 = "closet";
  std::string closet_leader = "tub-2";
  bool closet = true;
  Loaded loaded() const {
    Loaded l = Rig::loaded("fruiting");
    l.grow.chambers = {air_of("tub-1", "tub-1"), air_of("tent", "")};
    if (closet) l.grow.chambers.push_back(air_of("closet", closet_leader));
    l.grow.tubs = {tub_in("tub-1", tub_1, "B-01"), tub_in("tub-2", tub_2, "B-02")};
    return l;
  }
};

struct Places : testing::Test {
  Rig r;
  Airs files;
  void SetUp() override {
    r.adopt(files.loaded());
    r.warden.broker_up();
    for (const char* air : {"tub-1", "tent", "closet"}) {
      r.warden.output_report({{air, "mister"}, OutputHealth::ready, {}, ""});
    }
    r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
    r.ask("phase", {{"tub", "tub-2"}, {"phase", "casing"}});
    r.record.entries.clear();
  }
  std::shared_ptr<Rig::Answer> move(const std::string& tub, const std::string& to) {
    return r.ask("move", {{"tub", tub}, {"chamber", to}});
  }
  std::string refused(const std::string& tub, const std::string& to) {
    const auto answer = move(tub, to);
    return answer->error ? answer->error->text : "";
  }
  json tub(const std::string& id) {
    for (const json& t : json(r.status()["tubs"])) {
      if (t["id"] == id) return t;
    }
    return {};
  }
  json chamber(const std::string& id) {
    for (const json& c : json(r.status()["chambers"])) {
      if (c["id"] == id) return c;
    }
    return {};
  }
  std::string why(const std::string& id) { return chamber(id)["actuators"][0]["why"]; }
  std::string alert(const std::string& cause) {
    for (const json& a : json(r.status()["alerts"])) {
      if (a["cause"] == cause) return a["text"];
    }
    return "";
  }
  void dry(const std::string& air) {
    r.warden.message({"shed/" + air + "/air", "60", false, r.clock.at});
  }
  Level last_level(const std::string& air) {
    Level level = kRest;
    for (const FakeDrivers::Said& said : r.drivers.said) {
      if (said.id.chamber == air) level = said.level;
    }
    return level;
  }
};

TEST_F(Places, AMoveEndsAPlacementAndBeginsAnotherInOneTransaction) {
  r.clock.ticks = true;
  const auto answer = move("tub-1", "closet");
  ASSERT_FALSE(answer->error) << answer->error->text;
  ASSERT_EQ(r.record.entries.size(), 3U);
  const auto ended = r.record.all<PlacementEnded>();
  ASSERT_EQ(ended.size(), 1U);
  EXPECT_EQ(ended[0].chamber, "tub-1");
  EXPECT_EQ(ended[0].batch, "B-01");
  const auto placed = r.record.all<Placed>();
  ASSERT_EQ(placed.size(), 1U);
  EXPECT_EQ(placed[0].chamber, "closet");
  EXPECT_EQ(placed[0].batch, "B-01");
  EXPECT_EQ(r.record.entries[0].stamp.wall, r.record.entries[2].stamp.wall);
  EXPECT_EQ(r.record.all<PlaceSeen>().at(0).value, "tub-1") << "what its file says now";
  EXPECT_GT(answer->json["entry"].get<int>(), 0);
  EXPECT_EQ(answer->json["text"],
            "tub-1 stands in closet now, no longer in its own air; the air keeps the phase of "
            "tub-2 (casing); nobody stands in tub-1 now, its outputs stay safe");
}

TEST_F(Places, PhaseAndItsTimeGoWithTheTub) {
  r.pass(hours(5));
  move("tub-1", "tent");
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  EXPECT_NEAR(tub("tub-1")["elapsed_s"].get<double>(), 5 * 3600, 1);
  EXPECT_EQ(chamber("tent")["leader"], "tub-1");
  EXPECT_EQ(chamber("tent")["phase"], "fruiting");
  EXPECT_EQ(tub("tub-1")["chamber"], "tent");
  EXPECT_EQ(tub("tub-1")["note"], "file says it stands in its own air, record says tent");
}

TEST_F(Places, TheAirThatIsLeftRestsSafeAndTheOtherIsKept) {
  dry("tub-1");
  ASSERT_EQ(last_level("tub-1"), kRun);
  dry("tent");
  EXPECT_EQ(last_level("tent"), kRest) << "nobody stands there";
  EXPECT_THAT(why("tent"), HasSubstr("nobody stands in this air"));
  move("tub-1", "tent");
  EXPECT_EQ(last_level("tub-1"), kRest);
  EXPECT_EQ(last_level("tent"), kRun);
  EXPECT_THAT(why("tub-1"), HasSubstr("nobody stands in this air"));
  r.record.decided.clear();
  move("tub-1", "tub-1");
  for (const DecisionRow& row : r.record.decided) {
    EXPECT_THAT(row.why, testing::Not(HasSubstr("confirms"))) << row.chamber;
  }
  EXPECT_EQ(tub("tub-1")["note"], "");
}

TEST_F(Places, RefusalsSayTheWayOut) {
  EXPECT_THAT(refused("tub-1", "cloest"),
              HasSubstr("no chamber is called 'cloest' (nearest: closet); there are: tub-1, tent, "
                        "closet"));
  EXPECT_THAT(refused("tub-2", "tub-1"), HasSubstr("another tub's own air"));
  ASSERT_EQ(refused("tub-1", "closet"), "");
  EXPECT_EQ(refused("tub-2", "tent"),
            "tub-2 leads closet, where tub-1 would stay without a leader; name another leader in "
            "chambers/closet.yaml first");
  ASSERT_EQ(refused("tub-1", "tent"), "");
  EXPECT_EQ(refused("tub-2", "tent"),
            "tub-1 stands in tent already, and one air keeps one phase; name the leader in "
            "chambers/tent.yaml first");
  EXPECT_EQ(tub("tub-2")["chamber"], "closet");
}

TEST_F(Places, WithAnotherLeaderNamedTheLeaderMayGo) {
  move("tub-1", "closet");
  files.closet_leader = "tub-1";
  r.adopt(files.loaded());
  EXPECT_EQ(chamber("closet")["leader"], "tub-1");
  EXPECT_EQ(chamber("closet")["phase"], "fruiting");
  EXPECT_EQ(refused("tub-2", "tent"), "");
}

TEST_F(Places, ALeaderElsewhereLeavesTheAirToTheOnlyOneThere) {
  move("tub-2", "tent");
  move("tub-1", "closet");
  EXPECT_EQ(chamber("closet")["leader"], "tub-1");
  EXPECT_EQ(chamber("closet")["phase"], "fruiting");
}

TEST_F(Places, ATubWithoutABatchIsNotMoved) {
  Rig fresh;
  fresh.adopt(files.loaded());
  const auto answer = fresh.ask("move", {{"tub", "tub-1"}, {"chamber", "tent"}});
  ASSERT_TRUE(answer->error);
  EXPECT_THAT(answer->error->text, HasSubstr("tubwarden phase tub-1 PHASE"));
}

TEST_F(Places, WhereItStandsAlreadyNothingIsEntered) {
  const auto answer = move("tub-1", "tub-1");
  EXPECT_EQ(answer->json["text"], "tub-1 stands in its own air already");
  EXPECT_TRUE(r.record.entries.empty());
}

TEST_F(Places, AnUnchangedFileIsNoEventAndOneThatCatchesUpIsNone) {
  move("tub-1", "closet");
  r.record.entries.clear();
  r.adopt(files.loaded());
  EXPECT_TRUE(r.record.entries.empty());
  EXPECT_EQ(tub("tub-1")["chamber"], "closet");
  files.tub_1 = "closet";
  r.adopt(files.loaded());
  EXPECT_TRUE(r.record.all<Placed>().empty());
  ASSERT_EQ(r.record.all<PlaceSeen>().size(), 1U);
  EXPECT_EQ(r.record.all<PlaceSeen>()[0].value, "closet");
  EXPECT_EQ(tub("tub-1")["note"], "");
}

TEST_F(Places, AFileEditedToAThirdPlaceIsAnEvent) {
  move("tub-1", "closet");
  r.record.entries.clear();
  files.tub_1 = "tent";
  r.adopt(files.loaded());
  EXPECT_EQ(tub("tub-1")["chamber"], "tent");
  ASSERT_EQ(r.record.all<Placed>().size(), 1U);
  EXPECT_EQ(r.record.entries[0].who, "file");
  EXPECT_EQ(chamber("tent")["phase"], "fruiting");
}

TEST_F(Places, AFilesMoveThatCannotBeIsSaidAndDoneOnceItCan) {
  move("tub-1", "closet");
  files.tub_2 = "tent";
  r.adopt(files.loaded());
  EXPECT_EQ(tub("tub-2")["chamber"], "closet");
  EXPECT_THAT(alert("place_unconfirmed"), HasSubstr("name another leader in chambers/closet.yaml"));
  files.closet_leader = "tub-1";
  r.adopt(files.loaded());
  EXPECT_EQ(tub("tub-2")["chamber"], "tent");
  EXPECT_EQ(alert("place_unconfirmed"), "");
}

TEST_F(Places, OneMoveMakesRoomForAnotherInOneSave) {
  move("tub-1", "closet");
  files.tub_1 = "tent";
  r.adopt(files.loaded());
  ASSERT_EQ(tub("tub-1")["chamber"], "tent");
  // tub-1 goes back, and only then is there room in the tent for tub-2.
  files.tub_1 = "tub-1";
  files.tub_2 = "tent";
  r.adopt(files.loaded());
  EXPECT_EQ(tub("tub-1")["chamber"], "tub-1");
  EXPECT_EQ(tub("tub-2")["chamber"], "tent");
}

TubRecord stands(const std::string& tub, const std::string& chamber, const std::string& batch,
                 std::optional<std::string> place_seen) {
  TubRecord known;
  known.tub = tub;
  known.batch = batch;
  known.chamber = chamber;
  known.phase = "fruiting";
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  known.file_seen = "fruiting";
  known.place_seen = std::move(place_seen);
  return known;
}

TEST_F(Places, ARestartKeepsThePlace) {
  Rig late;
  late.warden.remember(
      {stands("tub-1", "closet", "B-01", "tub-1"), stands("tub-2", "closet", "B-02", "closet")});
  late.adopt(files.loaded());
  const json tubs = late.status()["tubs"];
  EXPECT_EQ(tubs[0]["chamber"], "closet");
  EXPECT_TRUE(late.record.all<Placed>().empty());
  EXPECT_TRUE(late.record.all<PlaceSeen>().empty());
}

TEST_F(Places, AFileFirstSeenAgainstARecordIsAskedUntilAHandSays) {
  Rig late;
  late.warden.remember({stands("tub-1", "closet", "B-01", std::nullopt),
                        stands("tub-2", "closet", "B-02", std::nullopt)});
  late.adopt(files.loaded());
  EXPECT_EQ(late.status()["tubs"][0]["chamber"], "closet");
  EXPECT_TRUE(late.standing("place_unconfirmed"));
  ASSERT_EQ(late.record.all<PlaceSeen>().size(), 1U) << "tub-2's agrees";
  const auto answer = late.ask("move", {{"tub", "tub-1"}, {"chamber", "closet"}});
  ASSERT_FALSE(answer->error);
  EXPECT_EQ(answer->json["text"], "tub-1 stays in closet; its file is noted");
  EXPECT_FALSE(late.standing("place_unconfirmed"));
  late.adopt(files.loaded());
  EXPECT_FALSE(late.standing("place_unconfirmed"));
}

TEST_F(Places, AnAirThatLosesItsFileWhileATubStandsThereGoesOn) {
  move("tub-2", "tent");
  move("tub-1", "closet");
  files.closet = false;
  files.tub_2 = "tent";
  r.adopt(files.loaded());
  EXPECT_EQ(chamber("closet")["leader"], "tub-1");
  EXPECT_THAT(alert("place_unconfirmed"), HasSubstr("which the configuration does not know any "
                                                    "more; it keeps what it had. Put closet back, "
                                                    "or: tubwarden move tub-1 tub-1"));
  r.adopt(files.loaded());
  EXPECT_EQ(chamber("closet")["leader"], "tub-1") << "and at the next reading of the folder";
  ASSERT_EQ(refused("tub-1", "tub-1"), "");
  EXPECT_EQ(alert("place_unconfirmed"), "");
  r.adopt(files.loaded());
  EXPECT_TRUE(chamber("closet").is_null());

  Rig late;
  late.warden.remember({stands("tub-1", "closet", "B-01", "tub-1")});
  late.adopt(files.loaded());
  EXPECT_TRUE(late.standing("place_unconfirmed")) << "nothing is known of it after a restart";
}

TEST_F(Places, TwoByTheRecordWithoutALeaderAreSafeAndSaid) {
  dry("closet");
  ASSERT_EQ(last_level("closet"), kRun);
  move("tub-1", "closet");
  files.closet_leader = "";
  r.adopt(files.loaded());
  EXPECT_EQ(last_level("closet"), kRest);
  EXPECT_THAT(alert("leader_unknown"), HasSubstr("tub-1 and tub-2 stand in it and none of them"));
  EXPECT_THAT(why("closet"), HasSubstr("none of them leads"));
  move("tub-1", "tub-1");
  EXPECT_EQ(alert("leader_unknown"), "");
  EXPECT_EQ(last_level("closet"), kRun);
}

TEST_F(Places, AnotherBatchStandsWhereItsFileSaysAndIsSafe) {
  move("tub-1", "tent");
  dry("tent");
  dry("tub-1");
  ASSERT_EQ(last_level("tent"), kRun);
  Loaded next = files.loaded();
  next.grow.tubs[0].batch = "B-09";
  r.adopt(next);
  EXPECT_EQ(tub("tub-1")["chamber"], "tub-1");
  EXPECT_EQ(last_level("tent"), kRest);
  EXPECT_EQ(last_level("tub-1"), kRest) << "the phase of the batch before is not the new one's";
  EXPECT_EQ(chamber("tub-1")["phase"], "");
}

TEST_F(Places, AnAlertOfAnAirThatHasLeftThePlanIsOver) {
  r.warden.output_report({{"closet", "mister"}, OutputHealth::failed_safe, {}, "three crashes"});
  ASSERT_TRUE(r.standing("output_mister"));
  move("tub-2", "tent");
  files.closet = false;
  files.tub_2 = "tent";
  r.adopt(files.loaded());
  EXPECT_FALSE(r.standing("output_mister"));
}

TEST_F(Places, AnOutputIsReleasedByTheNameOfItsAir) {
  r.warden.output_report({{"closet", "mister"}, OutputHealth::failed_safe, {}, "three crashes"});
  ASSERT_FALSE(r.ask("release", {{"tub", "closet"}, {"id", "mister"}})->error);
  EXPECT_EQ(r.drivers.released.back(), (OutputId{"closet", "mister"}));
  EXPECT_EQ(r.record.all<Act>().back().chamber, "closet");
  move("tub-1", "tent");
  r.warden.output_report({{"tub-1", "mister"}, OutputHealth::failed_safe, {}, "three crashes"});
  r.warden.output_report({{"tent", "mister"}, OutputHealth::failed_safe, {}, "three crashes"});
  ASSERT_FALSE(r.ask("release", {{"tub", "tub-1"}, {"id", "mister"}})->error);
  EXPECT_EQ(r.drivers.released.back(), (OutputId{"tent", "mister"})) << "a tub's air comes first";
  EXPECT_THAT(r.ask("release", {{"tub", "clost"}, {"id", "mister"}})->error->text,
              HasSubstr("no tub or chamber is called 'clost' (nearest: closet)"));
}

TEST_F(Places, WaterIsNotedWithinBounds) {
  const auto water = [&](const char* tub, json amount) {
    return r.ask("water", {{"tub", tub}, {"millilitres", std::move(amount)}});
  };
  EXPECT_EQ(water("tub-1", 200)->json["text"], "tub-1: watered with 200 mL");
  ASSERT_EQ(r.record.all<Watered>().size(), 1U);
  const Watered noted = r.record.all<Watered>()[0];
  EXPECT_EQ(noted.chamber, "tub-1");
  EXPECT_EQ(noted.batch, "B-01");
  EXPECT_EQ(noted.millilitres, 200.0);
  EXPECT_FALSE(water("tub-1", 1)->error);
  EXPECT_FALSE(water("tub-1", 20000)->error);
  for (const json& wrong : {json(0.9), json(20001), json(-5), json("200"), json(nullptr)}) {
    const auto answer = water("tub-1", wrong);
    ASSERT_TRUE(answer->error) << wrong;
    EXPECT_THAT(answer->error->text, HasSubstr("allowed are 1 mL to 20 L"));
  }
  Loaded shelf = files.loaded();
  shelf.grow.tubs[1].is_shelf = true;
  r.adopt(shelf);
  EXPECT_THAT(water("tub-2", 200)->error->text, HasSubstr("shelf of jars"));
}

}  // namespace
