// The grow record through the warden: what the disk could not keep has not happened, times need a
// clock, phases reach the book, and a morning tells what is due once.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"
#include "fakes.hpp"

namespace tubwarden {
namespace {

using fakes::Rig;
using testing::HasSubstr;
using testing::SizeIs;
using Json = nlohmann::json;

struct WardenGrow : ::testing::Test {
  Rig r;
  void SetUp() override {
    r.clock.zoned = true;
    r.adopt(Rig::loaded("colonization"));
    r.up();
    r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
    r.pass(seconds(1));  // the morning of this day is over, with nothing due
  }
  std::string ago(Duration d) const {
    return rfc3339(r.clock.wall_at - duration_cast<milliseconds>(d));
  }
  void receive() {
    r.ask("culture_receive", {{"culture", "LC-2"}, {"millilitres", 10.0}, {"on", ago(days(60))}});
  }
  std::shared_ptr<Rig::Answer> add_jars(int count, Duration before) {
    return r.ask("jar_add", {{"batch", "B-01"},
                             {"count", count},
                             {"culture", "LC-2"},
                             {"dose_ml", 1.0},
                             {"on", ago(before)}});
  }
  Json jars() { return r.ask("jars", {{"all", true}})->json["jars"]; }
  double left_ml() { return r.ask("culture", {{"culture", "LC-2"}})->json["culture"]["left_ml"]; }
  std::vector<Notice> mornings() const {
    std::vector<Notice> found;
    for (const Notice& notice : r.channels.notices) {
      if (notice.key.starts_with("site.today@")) found.push_back(notice);
    }
    return found;
  }
};

TEST_F(WardenGrow, AnActIsInTheRecordWithItsBatchItsHandAndWhenItWasDone) {
  receive();
  const auto added = add_jars(2, days(3));
  ASSERT_FALSE(added->error) << added->error->text;
  EXPECT_EQ(added->json["jars"], Json({"J-1", "J-2"}));
  const GrowNoted noted = r.record.all<GrowNoted>().back();
  EXPECT_EQ(noted.batch, "B-01");
  EXPECT_EQ(noted.grow.who, "grower");
  EXPECT_EQ(rfc3339(noted.grow.at), ago(days(3)));
  r.ask("jar_look", {{"jars", {"J-1", "J-2"}}, {"grown_pct", 25}, {"note", "dense"}});
  const GrowNoted look = r.record.all<GrowNoted>().back();
  EXPECT_EQ(look.batch, "B-01") << "a jar's look stands in the time line of its batch";
  EXPECT_EQ(look.grow.note, "dense");
  EXPECT_EQ(look.grow.at, r.clock.wall_at);
}

TEST_F(WardenGrow, WhatTheDiskCouldNotKeepHasNotHappened) {
  receive();
  r.record.fail = true;
  EXPECT_TRUE(add_jars(5, days(3))->error);
  EXPECT_THAT(jars(), SizeIs(0));
  EXPECT_EQ(left_ml(), 10.0);
  r.record.fail = false;
  EXPECT_FALSE(add_jars(5, days(3))->error);
  EXPECT_EQ(left_ml(), 5.0);
}

TEST_F(WardenGrow, WhatWaitsForASlowDiskCountsAlready) {
  receive();
  r.record.hold = true;
  const auto first = add_jars(6, days(3));
  const auto second = add_jars(6, days(3));
  ASSERT_TRUE(second->came) << "an overdraw is refused at once";
  EXPECT_THAT(second->error->text, HasSubstr("4 mL left"));
  EXPECT_THAT(r.ask("undo", {{"last", true}})->error->text, HasSubstr("not on disk yet"));
  r.pass(seconds(6));
  ASSERT_TRUE(first->came);
  EXPECT_EQ(first->json["on_disk"], false);
  r.record.let_go();
  EXPECT_FALSE(r.ask("undo", {{"last", true}})->error) << "it is on disk now, with its number";
  EXPECT_EQ(left_ml(), 10.0);
}

TEST_F(WardenGrow, SeveralJarsAreAllOrNone) {
  receive();
  add_jars(2, days(3));
  const auto shaken = r.ask("jar_shake", {{"jars", {"J-1", "J-2", "J-9"}}});
  ASSERT_TRUE(shaken->error);
  EXPECT_THAT(shaken->error->text, HasSubstr("'J-9'"));
  EXPECT_TRUE(jars()[0]["shaken"].is_null());
}

TEST_F(WardenGrow, WithoutAClockAnActNeedsItsTime) {
  r.clock.set = false;
  const Json args = {{"culture", "LC-3"}, {"millilitres", 10.0}};
  EXPECT_THAT(r.ask("culture_receive", args)->error->text, HasSubstr("--on"));
  EXPECT_TRUE(r.ask("today", Json::object())->error);
  Json dated = args;
  dated["on"] = "2026-03-01T10:00:00Z";
  EXPECT_FALSE(r.ask("culture_receive", dated)->error);
  dated["on"] = "yesterday";
  EXPECT_THAT(r.ask("culture_receive", dated)->error->text, HasSubstr("RFC 3339"));
}

TEST_F(WardenGrow, AHarvestWaitsForFruitingByTheRecordsPhases) {
  receive();
  add_jars(2, days(20));
  r.ask("spawn", {{"tub", "tub-1"}, {"jars", {"J-1"}}, {"substrate_kg", 5.0}});
  const Json pick = {{"tub", "tub-1"}, {"grams", 400.0}};
  EXPECT_THAT(r.ask("harvest", pick)->error->text, HasSubstr("tub-1 was in colonization"));
  r.pass(hours(1));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  const auto picked = r.ask("harvest", pick);
  ASSERT_FALSE(picked->error) << picked->error->text;
  EXPECT_THAT(picked->json["text"].get<std::string>(),
              HasSubstr("flush 1: 400 g so far; 400 g in all"));
}

TEST_F(WardenGrow, APhaseThatBeganWithoutAClockIsDatedLater) {
  receive();
  add_jars(2, days(20));
  r.ask("spawn", {{"tub", "tub-1"}, {"jars", {"J-1"}}, {"substrate_kg", 5.0}});
  r.clock.set = false;
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.pass(minutes(30));
  r.clock.set = true;
  r.pass(seconds(5));
  const Json args = {{"tub", "tub-1"}, {"grams", 400.0}, {"on", ago(minutes(20))}};
  EXPECT_FALSE(r.ask("harvest", args)->error);
}

TEST_F(WardenGrow, JarsMoveByTheSameWordAsTubs) {
  receive();
  add_jars(2, days(20));
  const auto moved = r.ask("move", {{"tub", "J-1"}, {"chamber", "closet"}});
  EXPECT_THAT(moved->error->text, HasSubstr("no shelf is called 'closet'"));
  EXPECT_THAT(r.ask("move", {{"tub", "tub-9"}, {"chamber", "tub-1"}})->error->text,
              HasSubstr("no tub is called"));
  EXPECT_FALSE(r.ask("note", {{"tub", "J-1"}, {"text", "smells of bread"}})->error);
  EXPECT_EQ(r.record.all<GrowNoted>().back().batch, "B-01");
}

TEST_F(WardenGrow, AMorningTellsOnceWhatIsDue) {
  receive();
  add_jars(3, days(6));  // due for a look since yesterday
  r.pass(hours(24));
  ASSERT_THAT(mornings(), SizeIs(1));
  EXPECT_EQ(mornings()[0].title, "today: 1 thing is due");
  EXPECT_THAT(mornings()[0].text, HasSubstr("look at J-1 to J-3"));
  EXPECT_EQ(mornings()[0].rank, AlertRank::today);
}

TEST_F(WardenGrow, AMorningNamesWhatIsOffAndWaitsInTheOutbox) {
  ChannelPlan phone{"phone", "webhook", "{}", {}};
  ChannelPlan pulse{"pulse", "webhook", "{}", {}};
  pulse.heartbeat = minutes(5);
  ChannelPlan second{"second", "webhook", "{}", {}};
  second.after_unseen = minutes(20);
  Loaded loaded = Rig::loaded("colonization");
  loaded.site->channels = {phone, pulse, second};
  r.adopt(std::move(loaded));
  ASSERT_FALSE(
      r.ask("alert_off", {{"key", "tub-1.output_mister"}, {"note", "at the bench"}})->error);
  r.pass(hours(24));
  ASSERT_THAT(mornings(), SizeIs(1));
  EXPECT_THAT(mornings()[0].text,
              HasSubstr("tub-1.output_mister is off while it is mended: at the bench"));
  EXPECT_EQ(mornings()[0].to, std::vector<std::string>{"phone"});
  int kept = 0;
  for (const NoticeWritten& written : r.record.all<NoticeWritten>()) {
    kept += written.key == mornings()[0].key && written.channel == "phone";
  }
  EXPECT_EQ(kept, 1) << "a crash before it is delivered loses nothing";
  const Json today = r.ask("today", Json::object())->json;
  ASSERT_EQ(today["tasks"].size(), 1u);
  EXPECT_EQ(today["tasks"][0]["what"], "off");
  EXPECT_EQ(today["tasks"][0]["command"], "tubwarden alerts back tub-1.output_mister");
}

TEST_F(WardenGrow, AMorningWithoutTasksTellsNothing) {
  r.pass(hours(24));
  EXPECT_THAT(mornings(), SizeIs(0));
}

TEST_F(WardenGrow, ARestartDoesNotTellTheMorningAgain) {
  receive();
  add_jars(3, days(6));
  r.pass(hours(20));
  ASSERT_THAT(mornings(), SizeIs(1));
  Rig again;
  again.clock.zoned = true;
  again.clock.at = r.clock.at;
  again.clock.wall_at = r.clock.wall_at;
  std::vector<GrowEntry> entries;
  for (const GrowNoted& noted : r.record.all<GrowNoted>()) entries.push_back(noted.grow);
  again.warden.remember_grow(entries, {});
  for (const Entry& entry : r.record.entries) {
    const Act* act = std::get_if<Act>(&entry.body);
    if (act && act->what == kMorningTold) again.warden.remember_acts({}, {{"", entry.stamp}});
  }
  again.adopt(Rig::loaded("colonization"));
  again.pass(hours(3));
  for (const Notice& notice : again.channels.notices) {
    EXPECT_FALSE(notice.key.starts_with("site.today@")) << notice.text;
  }
}

}  // namespace
}  // namespace tubwarden
