// The record taken out of a running daemon, and a daemon on a fresh folder that goes on from it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>

#include "rig.hpp"

namespace {

using namespace rig;
using ::testing::HasSubstr;

struct Copies : Rig, ::testing::Test {
  void SetUp() override {
    write_tub({});
    start();
    ASSERT_EQ(cli({"phase", "tub-1", "fruiting"}).status, 0);
    ASSERT_EQ(cli({"note", "tub-1", "first pins"}).status, 0);
  }
  std::string out(const std::string& name) { return (folder().path() / name).string(); }
  std::string config_folder() { return (folder().path() / "config").string(); }
};

TEST_F(Copies, ABackupOfARunningDaemonIsGoneOnFromInAFreshFolder) {
  air("tub-1", 87.0);
  const json made = ask({"backup", out("b.tar")});
  EXPECT_EQ(made["site"], "shed");
  EXPECT_GE(made["entries"], 4);
  ASSERT_EQ(cli({"note", "tub-1", "after the backup"}).status, 0) << "all goes on";
  const parts::Ran again = cli({"backup", out("b.tar")});
  EXPECT_EQ(again.status, 1);
  EXPECT_THAT(again.err, HasSubstr("overwrites nothing"));
  const parts::Ran refused = cli({"restore", out("b.tar"), "--config", config_folder()});
  EXPECT_EQ(refused.status, 1);
  EXPECT_THAT(refused.err, HasSubstr("stop it first"));

  daemon().signal(SIGKILL);
  ASSERT_TRUE(daemon().wait(5s));
  std::filesystem::remove_all(folder().path() / "record");
  const parts::Ran back = cli({"restore", out("b.tar"), "--config", config_folder()});
  ASSERT_EQ(back.status, 0) << back.err;
  EXPECT_THAT(back.out, HasSubstr("entries"));
  // The reading was in the daemon's memory when the backup was asked for.
  EXPECT_EQ(parts::run({"sqlite3", out("record/readings.db"), "select count(*)>0 from tail"}).out,
            "1\n");
  start();
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  std::vector<std::string> texts;
  for (const json& row : timeline("B-01")) texts.push_back(row["text"]);
  EXPECT_THAT(texts, ::testing::Contains("first pins"));
  EXPECT_THAT(texts, ::testing::Not(::testing::Contains("after the backup")));
}

TEST_F(Copies, EntriesComeOutAsTablesWithAndWithoutADaemon) {
  const json with = ask({"export", out("with")});
  ASSERT_EQ(stop(), 0);
  const parts::Ran without = cli({"export", out("without"), "--config", config_folder(), "--json"});
  ASSERT_EQ(without.status, 0) << without.err;
  EXPECT_THAT(without.err, HasSubstr("no daemon answers"));
  const std::string entries = parts::read_file(out("with/entries.csv"));
  EXPECT_THAT(entries, HasSubstr("first pins"));
  EXPECT_EQ(parts::read_file(out("without/entries.csv")).substr(0, entries.size()), entries);
}

}  // namespace
