// Changing phase by a line of configuration: what counts as an event, and what the record says of
// it.
#include <gtest/gtest.h>
#include <signal.h>

#include "rig.hpp"

namespace {

using namespace rig;

struct Phases : Rig, ::testing::Test {
  void SetUp() override {
    tub1.phase = "colonization";
    tub2.id = "tub-2";
    tub2.batch = "B-02";
    tub2.phase = "colonization";
    write_tub(tub1);
    write_tub(tub2);
    start();
    cli({"phase", "tub-1", "colonization"});
    cli({"phase", "tub-2", "colonization"});
  }
  /// Waits for the record, and not longer than the promise of one second (and a little for the
  /// test).
  bool reaches(const std::string& id, const std::string& phase) {
    return wait([&] { return tub(id)["phase"] == phase; }, 3s);
  }
  int transitions(const std::string& batch) {
    int n = 0;
    for (const json& r : timeline(batch)) n += r["kind"] == "phase" ? 1 : 0;
    return n;
  }
  bool unconfirmed(const std::string& id) {
    for (const auto& cause : alert_causes(id)) {
      if (cause == "phase_unconfirmed") return true;
    }
    return false;
  }
  /// Waits until the daemon has read the folder again, by the alert of a broken file that comes and
  /// goes.
  void sees_files_again() {
    folder().write(config("tubs/probe.yaml"), "tub: [");
    ASSERT_TRUE(wait([&] { return !alert_causes("site").empty(); })) << log();
    std::filesystem::remove(folder().path() / config("tubs/probe.yaml"));
    ASSERT_TRUE(wait([&] { return alert_causes("site").empty(); })) << log();
  }
  TubText tub1, tub2;
};

TEST_F(Phases, SavingTheLineChangesBandsRecordAndTopicWithinASecond) {
  parts::Listener topics(broker().url(), {"tubwarden/shed/tub/tub-1/phase"});
  tub1.phase = "fruiting";
  const auto saved = parts::Steady::now();
  write_tub(tub1);
  const auto told = topics.wait_for(
      "tubwarden/shed/tub/tub-1/phase",
      [](const parts::Heard& h) { return json::parse(h.payload)["phase"] == "fruiting"; }, 5s);
  ASSERT_TRUE(told) << log();
  EXPECT_LT(told->at - saved, 1s);
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  for (const json& q : json(chamber("tub-1")["air"])) {
    if (q["quantity"] == "humidity") {
      EXPECT_EQ(q["keep"], json::array({85.0, 90.0}));
    }
  }
  EXPECT_EQ(transitions("B-01"), 2);
  EXPECT_EQ(tub("tub-2")["phase"], "colonization");
}

TEST_F(Phases, AnEditorsRenameCountsAsASave) {
  tub1.phase = "fruiting";
  folder().write_by_rename(config("tubs/tub-1.yaml"), text_of(tub1));
  EXPECT_TRUE(reaches("tub-1", "fruiting")) << log();
}

TEST_F(Phases, HangupReadsTheFolderAgain) {
  tub1.phase = "fruiting";
  write_tub(tub1);
  daemon().signal(SIGHUP);
  EXPECT_TRUE(reaches("tub-1", "fruiting")) << log();
}

TEST_F(Phases, ATypoKeepsThatTubAndNotTheOther) {
  tub1.phase = "fruitng";
  tub2.phase = "fruiting";
  write_tub(tub1);
  write_tub(tub2);
  ASSERT_TRUE(reaches("tub-2", "fruiting")) << log();
  EXPECT_EQ(tub("tub-1")["phase"], "colonization");
  bool named = false;
  for (const json& f : json(status()["config"]["findings"])) {
    const std::string text = f;
    named = named ||
            (text.find("tubs/tub-1.yaml:4:8: ") == 0 && text.find("fruitng") != std::string::npos &&
             text.find("fruiting") != std::string::npos);
  }
  EXPECT_TRUE(named) << status()["config"].dump(1);
  tub1.phase = "colonization";
  write_tub(tub1);
  EXPECT_TRUE(wait([&] { return alert_causes("site").empty(); })) << "mended, the alert returns";
  EXPECT_EQ(transitions("B-01"), 1);
}

TEST_F(Phases, ReversedWithinTwoMinutesIsOneCorrection) {
  tub1.phase = "fruiting";
  write_tub(tub1);
  ASSERT_TRUE(reaches("tub-1", "fruiting"));
  tub1.phase = "colonization";
  write_tub(tub1);
  ASSERT_TRUE(reaches("tub-1", "colonization"));
  ASSERT_TRUE(wait([&] { return timeline("B-01").back()["corrects"].is_number(); }))
      << timeline("B-01").dump(1);
}

TEST_F(Phases, TheFileCatchingUpWithACommandIsNothing) {
  cli({"phase", "tub-1", "casing"});
  ASSERT_TRUE(reaches("tub-1", "casing"));
  EXPECT_EQ(tub("tub-1")["note"], "file says colonization, record says casing");
  sees_files_again();
  EXPECT_EQ(tub("tub-1")["phase"], "casing") << "an unchanged file is no event";
  tub1.phase = "casing";
  write_tub(tub1);
  ASSERT_TRUE(wait([&] { return tub("tub-1")["note"] == ""; })) << log();
  EXPECT_EQ(transitions("B-01"), 2);
}

TEST_F(Phases, AnEditMadeWhileTheDaemonWasAwayIsAnEvent) {
  stop();
  tub1.phase = "casing";
  write_tub(tub1);
  start();
  EXPECT_TRUE(reaches("tub-1", "casing")) << log();
}

TEST_F(Phases, RestartKeepsPhaseBatchAndTime) {
  cli({"phase", "tub-1", "casing"});
  ASSERT_TRUE(reaches("tub-1", "casing"));
  ASSERT_TRUE(wait([&] { return tub("tub-1")["elapsed_s"] >= 2; }));
  daemon().signal(SIGKILL);
  ASSERT_TRUE(daemon().wait(5s));
  start();
  const json now = tub("tub-1");
  EXPECT_EQ(now["phase"], "casing");
  EXPECT_EQ(now["batch"], "B-01");
  EXPECT_GE(now["elapsed_s"].get<int>(), 2);
}

TEST_F(Phases, ANewBatchInTheFileEndsThePlacementAndIsAskedFor) {
  tub1.batch = "B-09";
  tub1.phase = "fruiting";
  write_tub(tub1);
  ASSERT_TRUE(wait([&] { return unconfirmed("tub-1"); })) << log();
  EXPECT_EQ(tub("tub-1")["phase"], "");
  cli({"phase", "tub-1", "fruiting"});
  EXPECT_TRUE(reaches("tub-1", "fruiting"));
  EXPECT_TRUE(wait([&] { return !unconfirmed("tub-1"); }));
  EXPECT_EQ(transitions("B-09"), 1);
}

TEST_F(Phases, ATubFileThatVanishesKeepsWhatItHad) {
  std::filesystem::remove(folder().path() / config("tubs/tub-1.yaml"));
  sees_files_again();
  EXPECT_EQ(tub("tub-1")["phase"], "colonization");
  EXPECT_TRUE(wait(
      [&] {
        for (const auto& cause : alert_causes("tub-1")) {
          if (cause == "file_gone") return true;
        }
        return false;
      },
      20s))
      << log();
  cli({"phase", "tub-1", "empty"});
  ASSERT_TRUE(reaches("tub-1", "empty"));
  daemon().signal(SIGHUP);
  EXPECT_TRUE(wait([&] {
    for (const json& t : json(status()["tubs"])) {
      if (t["id"] == "tub-1") return false;
    }
    return true;
  })) << "an empty tub may go";
}

TEST_F(Phases, AnUnknownPhaseIsRefusedWithTheKnownOnes) {
  const parts::Ran ran = cli({"phase", "tub-1", "fruitng"});
  EXPECT_EQ(ran.status, 1);
  EXPECT_NE(ran.err.find("fruiting"), std::string::npos) << ran.err;
  EXPECT_EQ(tub("tub-1")["phase"], "colonization");
}

TEST_F(Phases, AnEditedProfileAppliesFromNowWithAnEntry) {
  std::string text = default_profile();
  text.replace(text.find("90 %}\n    next"), 4, "92 %");
  write_profile(text);
  ASSERT_TRUE(wait([&] {
    for (const json& q : json(chamber("tub-1")["air"])) {
      if (q["quantity"] == "humidity") return q["keep"][0] == 92.0;
    }
    return false;
  })) << log();
  bool noted = false;
  for (const json& r : timeline("B-01")) noted = noted || r["kind"] == "profile";
  EXPECT_TRUE(noted) << timeline("B-01").dump(1);
}

struct Fresh : Rig, ::testing::Test {};

TEST_F(Fresh, ATubWithoutARecordIsSafeAndSaysSo) {
  write_tub({});
  parts::Listener relay(broker().url(), {"shed/tub-1/mister"});
  start();
  air("tub-1", 60.0);
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 0.0);
  const std::string why = actuator("tub-1", "mister")["why"];
  EXPECT_NE(why.find("confirms the phase"), std::string::npos) << why;
  for (const std::string& p : payloads(relay, "shed/tub-1/mister")) EXPECT_EQ(p, "0");
  cli({"phase", "tub-1", "fruiting"});
  EXPECT_TRUE(relay.wait_for(
      "shed/tub-1/mister", [](const parts::Heard& h) { return h.payload == "1"; }, 10s))
      << log();
}

TEST_F(Fresh, AFolderMovedToAnExistingRecordIsAskedNotObeyed) {
  // The record knows the batch, but has never seen this value in this file: as after a restored
  // backup.
  write_tub({});
  start();
  cli({"phase", "tub-1", "fruiting"});
  stop();
  const auto db = (folder().path() / "record/record.db").string();
  ASSERT_EQ(parts::run({"sqlite3", db, "delete from file_seen"}).status, 0);
  TubText moved;
  moved.phase = "casing";
  write_tub(moved);
  start();
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  const auto causes = alert_causes("tub-1");
  EXPECT_NE(std::find(causes.begin(), causes.end(), "phase_unconfirmed"), causes.end());
}

TEST_F(Fresh, ABrokenFolderAtTheStartRunsTheLastGoodCopy) {
  write_tub({});
  start();
  cli({"phase", "tub-1", "fruiting"});
  stop();
  folder().write(config("tubwarden.yaml"), "site: [shed\n");
  folder().write(config("tubs/tub-1.yaml"), "tub: tub-1\nphase fruiting\n");
  // Without the site file the daemon looks for its state where the service manager says.
  setenv("STATE_DIRECTORY", (folder().path() / "record").c_str(), 1);
  start();
  unsetenv("STATE_DIRECTORY");
  EXPECT_EQ(status()["config"]["state"], "last good copy");
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  const auto causes = alert_causes("site");
  EXPECT_NE(std::find(causes.begin(), causes.end(), "configuration"), causes.end());
}

}  // namespace
