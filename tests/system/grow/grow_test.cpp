// A whole grow, entered as a grower would: a culture of 10 mL, five jars, one of them contaminated,
// two tubs, three flushes. What cannot be true is refused with the way out, a restart in the middle
// changes nothing, and a slip is taken back.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "base/text.hpp"
#include "system/daemon/rig.hpp"

namespace {

using namespace rig;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;

struct GrowScript : Rig, ::testing::Test {
  void SetUp() override {
    write_tub({"tub-1", "B-07", "colonization", "2s", "200ms", ""});
    write_tub({"tub-2", "B-07", "colonization", "2s", "200ms", ""});
    folder().write(config("tubs/jars.yaml"),
                   "shelf: jars\nbatch: B-07\nprofile: button\nphase: empty\nstands_in: closet\n");
    folder().write(config("chambers/closet.yaml"), "chamber: closet\nnet_volume: 600 L\n");
    start();
    for (const char* tub : {"tub-1", "tub-2"}) ask({"phase", tub, "colonization"});
  }
  /// A day so many days ago, as a grower would write it.
  static std::string ago(int days) {
    const auto now = std::chrono::system_clock::now() - std::chrono::hours(24 * days);
    return tubwarden::rfc3339(tubwarden::WallTime(
        std::chrono::duration_cast<std::chrono::milliseconds>(now.time_since_epoch())));
  }
  std::string refused(const std::vector<std::string>& words) {
    const parts::Ran ran = cli(words);
    EXPECT_EQ(ran.status, 1) << testing::PrintToString(words) << ran.out;
    return ran.err;
  }
  json jar(const std::string& id) { return ask({"jar", "show", id})["jar"]; }
  json culture() { return ask({"culture", "show", "LC-2"})["culture"]; }

  /// To jars that are grown through: a month of it.
  void fill_jars() {
    ask({"culture", "receive", "LC-2", "--volume", "10mL", "--strain", "A15", "--on", ago(40)});
    ask({"sterilise", "S-3", "--hold", "90m", "--gauge", "103kPa", "--on", ago(33)});
    const json added =
        ask({"jar",   "add",    "--batch", "B-07",    "--count", "5",      "--culture",
             "LC-2",  "--dose", "1mL",     "--grain", "rye",     "--fill", "300g",
             "--run", "S-3",    "--shelf", "jars",    "--on",    ago(32)});
    EXPECT_EQ(added["jars"], json({"J-1", "J-2", "J-3", "J-4", "J-5"}));
    ask({"jar", "look", "J-1..J-5", "25%", "--on", ago(25)});
    ask({"jar", "shake", "J-1..J-5", "--on", ago(25)});
  }
  void fill_tubs() {
    ask({"jar", "look", "J-1", "J-2", "J-4", "J-5", "100%", "--on", ago(18)});
    ask({"substrate", "make", "M-4", "--dry", "3.5kg", "--water", "6L", "--on", ago(18)});
    ask({"spawn", "tub-1", "--jars", "J-1", "J-2", "--mix", "M-4", "--substrate", "4.75kg",
         "--surface", "0.24m2", "--on", ago(17)});
    ask({"spawn", "tub-2", "--jars", "J-4", "J-5", "--mix", "M-4", "--substrate", "4.75kg", "--on",
         ago(17)});
    for (const char* tub : {"tub-1", "tub-2"}) {
      ask({"case", tub, "--with", "peat and lime", "--depth", "40mm", "--on", ago(3)});
      ask({"phase", tub, "fruiting"});
    }
  }
};

TEST_F(GrowScript, AWholeGrowIsKeptAndTracedBothWays) {
  fill_jars();
  EXPECT_EQ(culture()["left_ml"], 5.0);
  EXPECT_EQ(culture()["jars"], 5);

  const json bad = ask({"jar", "contaminated", "J-3", "green patch", "--on", ago(20)});
  EXPECT_THAT(bad["advice"].dump(), AllOf(HasSubstr("Do not open it indoors"), HasSubstr("local")));
  ASSERT_EQ(bad["siblings"].size(), 4U);
  for (const json& group : bad["siblings"]) {
    EXPECT_EQ(group["jars"], 5) << group;
    EXPECT_EQ(group["watch"], json({"J-1", "J-2", "J-4", "J-5"})) << group;
  }
  ask({"jar", "discard", "J-3", "--why", "green mould", "--on", ago(20)});
  fill_tubs();

  for (int flush = 1; flush <= 3; ++flush) {
    for (const std::string tub : {"tub-1", "tub-2"}) {
      ask({"pins", tub, "--size", "3mm"});
      ask({"harvest", tub, std::to_string(600 / flush) + "g", "--count", "30"});
      ask({"clean", tub});
    }
  }
  stop();
  start();

  const json trace = ask({"trace", "J-1"});
  EXPECT_EQ(trace["kind"], "jar");
  std::vector<std::string> texts;
  for (const json& line : trace["lines"]) texts.push_back(line["text"]);
  EXPECT_THAT(texts.front(), HasSubstr("culture LC-2 received: 10 mL of A15"));
  EXPECT_THAT(texts, Contains(HasSubstr("sterilising run S-3")));
  EXPECT_THAT(texts, Contains("jar J-1 shaken"));
  EXPECT_THAT(texts, Contains(HasSubstr("mixed into 4.75 kg of substrate in tub-1")));
  EXPECT_THAT(texts, Contains("200 g picked in tub-1, 30 mushrooms"));
  EXPECT_THAT(texts, Not(Contains(HasSubstr("picked in tub-2"))));

  const json of_culture = ask({"trace", "LC-2"});
  std::set<std::string> tubs;
  for (const json& line : of_culture["lines"]) {
    if (line["side"] == "offspring") tubs.insert(line["of"].get<std::string>());
  }
  EXPECT_TRUE(tubs.contains("tub-1") && tubs.contains("tub-2") && tubs.contains("J-3"));

  std::vector<std::string> entries;
  for (const json& row : timeline("B-07")) entries.push_back(row["text"]);
  EXPECT_THAT(entries, Contains(HasSubstr("jar J-3 is contaminated: green patch")));
  EXPECT_THAT(entries, Contains("600 g picked in tub-1, 30 mushrooms"));
}

TEST_F(GrowScript, WhatCannotBeTrueIsRefusedWithTheWayOut) {
  fill_jars();
  EXPECT_THAT(refused({"jar", "add", "--batch", "B-07", "--count", "6", "--culture", "LC-2",
                       "--dose", "1mL"}),
              AllOf(HasSubstr("LC-2 has 5 mL left of 10 mL"), HasSubstr("enough for 5 jars")));
  EXPECT_THAT(refused({"jar", "add", "--batch", "B-07", "--id", "J-3"}),
              HasSubstr("there is a jar J-3 already; name another id"));
  EXPECT_THAT(refused({"jar", "look", "J-33", "25%"}),
              AllOf(HasSubstr("no jar is called 'J-33'"), HasSubstr("tubwarden jar list")));
  EXPECT_THAT(refused({"jar", "shake", "J-1", "--on", "2099-01-01T10:00:00Z"}),
              HasSubstr("lies in the future"));
  EXPECT_THAT(refused({"jar", "shake", "J-1", "J-1"}), HasSubstr("J-1 is named twice"));
  EXPECT_THAT(refused({"harvest", "tub-1", "400g"}),
              HasSubstr("has not been filled with batch B-07"));
  ask({"spawn", "tub-1", "--jars", "J-1", "--substrate", "5kg"});
  EXPECT_THAT(refused({"harvest", "tub-1", "400g"}),
              AllOf(HasSubstr("nothing is picked before fruiting"),
                    HasSubstr("tubwarden phase tub-1 fruiting")));
  EXPECT_THAT(refused({"spawn", "tub-2", "--jars", "J-1", "--substrate", "5kg"}),
              HasSubstr("was mixed into tub-1"));
  EXPECT_THAT(refused({"move", "J-2", "cupboard"}), HasSubstr("no shelf is called 'cupboard'"));
  EXPECT_THAT(refused({"trace", "J-99"}), HasSubstr("nothing in the record of the grow"));
  EXPECT_EQ(cli({"jar", "look", "J-1", "much"}).status, 2);
  EXPECT_EQ(cli({"jar", "shake", "J-5..J-1"}).status, 2);
  EXPECT_EQ(culture()["left_ml"], 5.0) << "what was refused has left nothing behind";
}

TEST_F(GrowScript, ASlipIsTakenBackByANewEntryAlsoAcrossARestart) {
  fill_jars();
  const json slip = ask({"jar", "look", "J-1", "J-2", "95%"});
  EXPECT_EQ(slip["entries"].size(), 2U);
  EXPECT_EQ(jar("J-2")["grown_pct"], 95.0);
  const json undone = ask({"undo", "last"});
  EXPECT_EQ(undone["entries"].size(), 2U) << "what one command wrote is taken back by one";
  EXPECT_EQ(jar("J-1")["grown_pct"], 25.0);
  EXPECT_EQ(jar("J-2")["grown_pct"], 25.0);

  stop();
  start();
  EXPECT_EQ(jar("J-2")["grown_pct"], 25.0);
  EXPECT_EQ(jar("J-2")["looks"].size(), 1U);
  EXPECT_EQ(timeline("B-07").back()["corrects"], slip["entries"][0]);
  const std::string number = std::to_string(slip["entries"][0].get<int>());
  EXPECT_THAT(refused({"undo", number}), HasSubstr("was taken back already"));
  EXPECT_THAT(refused({"undo", "1"}), HasSubstr("is no act of the grow"));
}

TEST_F(GrowScript, TodaySaysWhatIsDueAndTheCommandThatDoesIt) {
  fill_jars();
  json tasks = ask({"today"})["tasks"];
  ASSERT_EQ(tasks.size(), 1U) << tasks;
  EXPECT_EQ(tasks[0]["what"], "overdue");
  EXPECT_EQ(tasks[0]["of"].size(), 5U);
  EXPECT_EQ(tasks[0]["late"], true);
  EXPECT_EQ(tasks[0]["command"], "tubwarden jar look J-1..J-5 PERCENT");
  ask({"jar", "look", "J-1..J-5", "100%"});
  tasks = ask({"today"})["tasks"];
  ASSERT_EQ(tasks.size(), 1U) << tasks;
  EXPECT_EQ(tasks[0]["what"], "mix");
  EXPECT_THAT(cli({"today"}).out, AllOf(HasSubstr("1 thing is due"), HasSubstr("ready to mix")));
  ask({"spawn", "tub-1", "--jars", "J-1..J-5", "--substrate", "5kg"});
  EXPECT_TRUE(ask({"today"})["tasks"].empty());
  EXPECT_EQ(cli({"today"}).out, "Nothing is due today.\n");
}

}  // namespace
