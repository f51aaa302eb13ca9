#include "shell/warden/warden.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace {

using namespace fakes;
using nlohmann::json;

TEST(Warden, ACommandIsAnsweredOnceItsEntryIsOnDisk) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.record.hold = true;
  const auto answer = r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  EXPECT_FALSE(answer->came);
  EXPECT_EQ(r.tub()["phase"], "fruiting") << "outputs first, the record after";
  r.record.let_go();
  ASSERT_TRUE(answer->came);
  EXPECT_EQ(answer->json["on_disk"], true);
  EXPECT_GT(answer->json["entry"].get<int>(), 0);
}

TEST(Warden, ASlowDiskIsAnsweredAfterFiveSecondsAndAlerts) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.record.hold = true;
  const auto answer = r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.pass(milliseconds(4900));
  EXPECT_FALSE(answer->came);
  r.pass(milliseconds(200));
  ASSERT_TRUE(answer->came);
  EXPECT_EQ(answer->json["on_disk"], false);
  EXPECT_TRUE(r.standing("record_slow"));
  r.record.let_go();
  EXPECT_FALSE(r.standing("record_slow"));
}

TEST(Warden, ARecordThatFailsAnswersWithTheErrorAndAlertsOnce) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.record.fail = true;
  const auto answer = r.ask("note", {{"tub", "tub-1"}, {"text", "pins"}});
  ASSERT_TRUE(answer->error);
  EXPECT_NE(answer->error->text.find("disk is full"), std::string::npos);
  EXPECT_TRUE(r.standing("record_failed"));
  r.record.fail = false;
  EXPECT_FALSE(r.ask("note", {{"tub", "tub-1"}, {"text", "pins"}})->error);
  EXPECT_FALSE(r.standing("record_failed"));
}

TEST(Warden, AJumpOfTheWallClockMovesNoPhaseTime) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.pass(minutes(30));
  r.clock.wall_at += hours(24 * 400);
  r.warden.tick();
  EXPECT_NEAR(r.tub()["elapsed_s"].get<double>(), 1800, 1);
  r.clock.wall_at -= hours(24 * 800);
  r.warden.tick();
  EXPECT_NEAR(r.tub()["elapsed_s"].get<double>(), 1800, 1);
}

TubRecord remembered(const Rig& r) {
  TubRecord known;
  known.tub = "tub-1";
  known.batch = "B-01";
  known.chamber = "tub-1";
  known.phase = "fruiting";
  known.profile = "button";
  known.profile_text = "v1";
  known.transition = 7;
  known.file_seen = "fruiting";
  known.since = {r.clock.wall_at - days(3), true, "boot-before", Instant(hours(50))};
  return known;
}

TEST(Warden, TimePoweredOffJoinsThePhaseOnceTheClockIsSet) {
  Rig r;
  const TubRecord known = remembered(r);
  r.clock.set = false;
  r.clock.wall_at = WallTime(milliseconds(0));
  Rig late;  // a second board whose clock is set from the start, as the control
  late.warden.remember({known});
  late.adopt(Rig::loaded("fruiting"));
  EXPECT_NEAR(late.tub()["elapsed_s"].get<double>(), 3 * 86400, 1);

  r.warden.remember({known});
  r.adopt(Rig::loaded("fruiting"));
  EXPECT_NEAR(r.tub()["elapsed_s"].get<double>(), 3600, 1) << "at least this boot";
  r.clock.set = true;
  r.clock.wall_at = late.clock.wall_at;
  r.warden.tick();
  EXPECT_NEAR(r.tub()["elapsed_s"].get<double>(), 3 * 86400, 1);
}

TEST(Warden, CheckpointsKeepElapsedTimeEachTenMinutesAndAtTheEnd) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.pass(minutes(25));
  ASSERT_EQ(r.record.checkpoints.size(), 2U);
  EXPECT_EQ(r.record.checkpoints[1].elapsed, minutes(20));
  r.warden.stop();
  EXPECT_EQ(r.record.checkpoints.back().elapsed, minutes(25));
}

TEST(Warden, OutputsBeforeAlertsBeforeTheirTopics) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.up();
  r.pass(seconds(5));
  r.reading("80");
  ASSERT_FALSE(r.drivers.said.empty());
  EXPECT_EQ(r.drivers.said.back().level, kRun);
  const auto topic = r.broker.retained.at("tubwarden/shed/chamber/tub-1/actuator/mister");
  EXPECT_EQ(json::parse(topic)["level_pct"], 100.0);
}

TEST(Warden, AChangedWiringForgetsWhatTheOldDriverReported) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.up();
  r.pass(seconds(5));
  r.reading("80");
  r.drivers.said.clear();
  Loaded next = Rig::loaded("fruiting");
  next.grow.chambers[0].actuators[0].output.wiring_json = R"({"topic":"other"})";
  r.adopt(next);
  r.reading("79");
  EXPECT_TRUE(r.drivers.said.empty()) << "the new driver has not said that it obeys";
  r.warden.output_report({{"tub-1", "mister"}, OutputHealth::ready, {}, ""});
  EXPECT_FALSE(r.drivers.said.empty());
}

TEST(Warden, AnAlertThatReturnsWhileTheBrokerIsAwayIsEmptiedLater) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.up();
  const std::string topic = "tubwarden/shed/alert/tub-1.phase_unconfirmed";
  ASSERT_TRUE(r.broker.retained.contains(topic)) << "an unconfirmed tub says so";
  r.warden.broker_down("test");
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  EXPECT_TRUE(r.broker.retained.contains(topic));
  r.warden.broker_up();
  EXPECT_FALSE(r.broker.retained.contains(topic));
}

TEST(Warden, AlertsLeftStandingByAnEarlierRunAreTakenBack) {
  Rig r;
  r.record.left_standing = {{"tub-1", "humidity_low", true, "too dry"}};
  r.broker.retained["tubwarden/shed/alert/tub-1.humidity_low"] = "{}";
  r.warden.remember_alerts(r.record.left_standing);
  r.adopt(Rig::loaded("fruiting"));
  r.up();
  EXPECT_FALSE(r.broker.retained.contains("tubwarden/shed/alert/tub-1.humidity_low"));
  const auto noted = r.record.all<AlertNoted>();
  ASSERT_FALSE(noted.empty());
  EXPECT_EQ(noted.front().cause, "humidity_low");
  EXPECT_FALSE(noted.front().raised);
}

TEST(Warden, AReadingUnpublishedWhenTheBrokerLeftAsksForNoWake) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.up();
  r.reading("86");
  r.reading("86.1");  // waits for the next publication
  r.warden.broker_down("test");
  r.clock.pass(seconds(6));
  r.warden.tick();  // would turn for ever
  EXPECT_GT(r.wake, r.clock.at);
}

TEST(Warden, BrokerLostIsToldAfterFiveSecondsOnce) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.up();
  r.warden.broker_down("test");
  r.pass(seconds(4));
  EXPECT_FALSE(r.standing("broker_lost"));
  r.pass(seconds(2));
  EXPECT_TRUE(r.standing("broker_lost"));
  r.warden.broker_down("again");
  r.pass(minutes(5));
  int told = 0;
  for (const Notice& n : r.channels.notices) told += n.title == "site: broker lost" ? 1 : 0;
  EXPECT_EQ(told, 1);
  EXPECT_FALSE(r.standing("sensor_air_stale")) << "one cause, one message";
}

TEST(Warden, AMessageSaysSinceWhenAndHowLongItLasted) {
  Rig r;
  r.clock.zoned = true;
  r.adopt(Rig::loaded("fruiting"));
  r.up();
  r.pass(minutes(1));
  const int second = r.clock.local_second_of_day();
  r.warden.broker_down("test");
  r.pass(minutes(10));
  r.up();
  r.pass(minutes(1));
  std::vector<Notice> told;
  for (const Notice& n : r.channels.notices) {
    if (n.title.ends_with("site: broker lost")) told.push_back(n);
  }
  ASSERT_EQ(told.size(), 2u);
  const std::string began = fmt::format("{:02}:{:02}.", second / 3600, second / 60 % 60);
  EXPECT_TRUE(told[0].text.ends_with("\nSince " + began)) << told[0].text;
  EXPECT_EQ(told[0].state, NoticeState::raised);
  EXPECT_EQ(told[1].title, "over: site: broker lost");
  EXPECT_NE(told[1].text.find("\nIt began at " + began + " It lasted 10m"), std::string::npos)
      << told[1].text;
  EXPECT_EQ(told[1].state, NoticeState::over);
  EXPECT_EQ(told[1].key, told[0].key + "/over") << "two messages, two keys";
}

TEST(Warden, UnknownThingsAreRefusedWithWhatThereIs) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  const auto tub = r.ask("why", {{"tub", "tub1"}});
  ASSERT_TRUE(tub->error);
  EXPECT_EQ(tub->error->code, ErrorCode::not_found);
  EXPECT_NE(tub->error->text.find("tub-1"), std::string::npos);
  const auto phase = r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruitng"}});
  ASSERT_TRUE(phase->error);
  EXPECT_NE(phase->error->text.find("nearest: fruiting"), std::string::npos) << phase->error->text;
  const auto request = r.ask("statu", json::object());
  ASSERT_TRUE(request->error);
  EXPECT_NE(request->error->text.find("status"), std::string::npos);
  r.warden.answer("status", "[1]", "grower", [](Result<std::string> answer) {
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.error().code, ErrorCode::bad_input);
  });
}

TEST(Warden, ReleaseIsForWhatHasFailedSafe) {
  Rig r;
  r.adopt(Rig::loaded("fruiting"));
  r.up();
  EXPECT_EQ(r.ask("release", {{"tub", "tub-1"}, {"id", "mister"}})->error->code,
            ErrorCode::refused);
  r.warden.output_report(
      {{"tub-1", "mister"}, OutputHealth::failed_safe, {}, "three crashes in 10 minutes"});
  EXPECT_TRUE(r.standing("output_mister"));
  EXPECT_FALSE(r.ask("release", {{"tub", "tub-1"}, {"id", "mister"}})->error);
  EXPECT_EQ(r.drivers.released.size(), 1U);
}

TEST(Warden, ACorrectionResumesTheTimeOfThePhaseItComesBackTo) {
  Rig r;
  r.adopt(Rig::loaded("colonization"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  r.pass(hours(5));
  r.adopt(Rig::loaded("fruiting"));
  EXPECT_EQ(r.tub()["phase"], "fruiting");
  r.pass(seconds(60));
  r.adopt(Rig::loaded("colonization"));
  EXPECT_NEAR(r.tub()["elapsed_s"].get<double>(), 5 * 3600 + 60, 1);
  const auto changes = r.record.all<PhaseTransition>();
  ASSERT_EQ(changes.size(), 3U);
  EXPECT_EQ(changes[2].cause, PhaseCause::correction);
  EXPECT_TRUE(changes[2].corrects);
}

TEST(Warden, AGlideIsNotedBehindItsTransition) {
  Rig r;
  Loaded l = Rig::loaded("colonization");
  auto gliding = std::make_shared<Profile>(*Rig::profile());
  for (PhasePlan& phase : gliding->phases) {
    if (phase.quantities[0]) phase.quantities[0]->glide = hours(48);
  }
  l.grow.tubs[0].profile = gliding;
  r.adopt(l);
  r.up();
  r.reading("88");
  r.record.hold = true;
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  EXPECT_TRUE(r.record.all<GlideStarted>().empty()) << "its transition is not on disk yet";
  r.record.let_go();
  ASSERT_EQ(r.record.all<GlideStarted>().size(), 1U);
  EXPECT_EQ(r.record.all<GlideStarted>()[0].value, 88.0);
  EXPECT_TRUE(std::holds_alternative<GlideStarted>(r.record.entries.back().body));
}

TEST(Warden, AfterTwoMinutesTheWayBackIsAChange) {
  Rig r;
  r.adopt(Rig::loaded("colonization"));
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
  r.pass(hours(5));
  r.adopt(Rig::loaded("fruiting"));
  r.pass(seconds(121));
  r.adopt(Rig::loaded("colonization"));
  EXPECT_EQ(r.record.all<PhaseTransition>().back().cause, PhaseCause::file);
  EXPECT_LT(r.tub()["elapsed_s"].get<double>(), 1);
}

}  // namespace
