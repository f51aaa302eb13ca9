// The grower's hand by the control socket: taken, told, recorded, ended, and taken up again by the
// next run of the daemon.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace fakes {
namespace {

using testing::HasSubstr;

struct HandsTest : testing::Test {
  Rig rig;
  void begin(const Loaded& l = Rig::loaded("fruiting")) {
    rig.adopt(l);
    rig.up();
    rig.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  }
  Level mister() const { return rig.drivers.said.empty() ? kRest : rig.drivers.said.back().level; }
  HandTaken last_taken() const { return rig.record.all<HandTaken>().back(); }
  HandOpen open(HandKind kind, Duration lasts, const std::string& boot = "boot-a") const {
    HandTaken h{"tub-1",
                "tub-1",
                "B-01",
                kind,
                kind == HandKind::attend ? "" : "mister",
                kind == HandKind::trial ? kRun : kRest,
                lasts,
                ""};
    return {h, {rig.clock.wall_at, rig.clock.set, boot, rig.clock.at}};
  }
};

TEST_F(HandsTest, AttendRestsTellsRecordsAndEnds) {
  begin();
  rig.reading("80");
  ASSERT_EQ(mister(), kRun);
  const auto said = rig.ask("attend", {{"tub", "tub-1"}, {"for", "20m"}});
  ASSERT_FALSE(said->error) << said->error->text;
  EXPECT_THAT(said->json["text"], HasSubstr("hands in tub-1 for 20m"));
  EXPECT_EQ(mister(), kRest);
  EXPECT_EQ(last_taken().lasts, minutes(20));
  EXPECT_EQ(rig.status()["chambers"][0]["hands"][0]["kind"], "attend");
  rig.pass(minutes(19));
  rig.reading("60");
  EXPECT_EQ(mister(), kRest);
  rig.pass(minutes(1));
  rig.reading("60");
  EXPECT_EQ(mister(), kRun);
  ASSERT_EQ(rig.record.all<HandEnded>().size(), 1U);
  EXPECT_EQ(rig.record.all<HandEnded>()[0].batch, "B-01");
}

TEST_F(HandsTest, AttendEndsEarlyOnce) {
  begin();
  rig.ask("attend", {{"tub", "tub-1"}, {"for", "20m"}});
  EXPECT_FALSE(rig.ask("attend", {{"tub", "tub-1"}, {"for", "end"}})->error);
  EXPECT_TRUE(rig.ask("attend", {{"tub", "tub-1"}, {"for", "end"}})->error);
  EXPECT_EQ(rig.record.all<HandEnded>().size(), 1U);
}

struct WrongWords {
  const char* what;
  nlohmann::json args;
  const char* says;
};
void PrintTo(const WrongWords& w, std::ostream* out) { *out << w.what << " " << w.args.dump(); }
class Wrong : public HandsTest, public testing::WithParamInterface<WrongWords> {};
INSTANTIATE_TEST_SUITE_P(
    Words, Wrong,
    testing::Values(
        WrongWords{"attend", {{"tub", "tub-9"}, {"for", "20m"}}, "nearest: tub-1"},
        WrongWords{"attend", {{"tub", "tub-1"}, {"for", "20"}}, "unit"},
        WrongWords{"attend", {{"tub", "tub-1"}, {"for", "5h"}}, "allowed are 10s to 4h"},
        WrongWords{"keep_at",
                   {{"tub", "tub-1"}, {"actuator", "mistr"}, {"level", "rest"}, {"for", "1h"}},
                   "nearest: mister"},
        WrongWords{"keep_at",
                   {{"tub", "tub-1"}, {"actuator", "mister"}, {"level", "on"}, {"for", "1h"}},
                   "'rest' or 'run'"},
        WrongWords{"keep_at",
                   {{"tub", "tub-1"}, {"actuator", "mister"}, {"level", "rest"}, {"for", "25h"}},
                   "10s to 1d"},
        WrongWords{
            "keep_at", {{"tub", "tub-1"}, {"actuator", "mister"}, {"level", "end"}}, "not kept"},
        WrongWords{
            "try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "11m"}}, "100ms to 10m"},
        WrongWords{"trial", {{"tub", "tub-1"}, {"actuator", "mister"}}, "has not been tried"}));

TEST_P(Wrong, SaysWhatIsAllowedAndDoesNothing) {
  begin();
  const std::size_t entries = rig.record.entries.size();
  const auto answer = rig.ask(GetParam().what, GetParam().args);
  ASSERT_TRUE(answer->error);
  EXPECT_THAT(answer->error->text, HasSubstr(GetParam().says));
  EXPECT_EQ(rig.record.entries.size(), entries);
}

TEST_F(HandsTest, KeepAtIsTakenUpAgainForTheRestOfItsTime) {
  rig.warden.remember_hands({open(HandKind::keep_at, minutes(30))});
  rig.clock.pass(minutes(20));
  begin();
  rig.reading("80");
  EXPECT_EQ(mister(), kRest) << "kept at rest by the hand of the run before";
  rig.pass(minutes(9));
  rig.reading("80");
  EXPECT_EQ(mister(), kRest);
  rig.pass(minutes(1));
  rig.reading("80");
  EXPECT_EQ(mister(), kRun);
}

TEST_F(HandsTest, WhatRanOutMeanwhileIsEndedAndNotTakenUp) {
  rig.warden.remember_hands({open(HandKind::attend, minutes(30))});
  rig.clock.pass(minutes(31));
  begin();
  rig.reading("80");
  EXPECT_EQ(mister(), kRun);
  EXPECT_EQ(rig.record.all<HandEnded>().size(), 1U);
}

TEST_F(HandsTest, ATrialIsNotTakenUp) {
  rig.warden.remember_hands({open(HandKind::trial, seconds(30))});
  begin();
  EXPECT_EQ(mister(), kRest);
  ASSERT_EQ(rig.record.all<HandEnded>().size(), 1U);
  EXPECT_THAT(rig.record.all<HandEnded>()[0].text, HasSubstr("cut off by a restart"));
}

TEST_F(HandsTest, AfterAPowerCutWithoutAClockTheWholeTimeCountsUntilTheClockIsSet) {
  rig.warden.remember_hands({open(HandKind::attend, minutes(30), "boot-before")});
  rig.clock.at = Instant(seconds(40));  // another boot, and the clock is not set
  rig.clock.set = false;
  begin();
  rig.reading("80");
  EXPECT_EQ(mister(), kRest);
  rig.clock.set = true;
  rig.clock.wall_at += minutes(29);
  rig.pass(seconds(5));
  EXPECT_EQ(mister(), kRest) << "one minute is left, now that it is known";
  rig.pass(minutes(1));
  rig.reading("80");
  EXPECT_EQ(mister(), kRun);
}

TEST_F(HandsTest, ATrialIsWatchedAndItsVerdictIsRecorded) {
  begin();
  HostView host;
  host.id = {"tub-1", "mister"};
  host.confirms = true;
  rig.drivers.views = {host};
  rig.reading("88");
  const auto said = rig.ask("try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "3s"}});
  ASSERT_FALSE(said->error) << said->error->text;
  ASSERT_EQ(rig.drivers.said.back().level, kRun);
  EXPECT_EQ(rig.drivers.said.back().run, seconds(3));
  rig.pass(milliseconds(400));
  rig.warden.output_report({{"tub-1", "mister"}, OutputHealth::ready, kRun, ""});
  const auto again = rig.ask("try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "3s"}});
  ASSERT_TRUE(again->error) << "one at a time in one air";
  rig.pass(milliseconds(2800));
  rig.warden.output_report({{"tub-1", "mister"}, OutputHealth::ready, kRest, ""});
  rig.pass(seconds(5));
  rig.reading("90.5");
  EXPECT_EQ(rig.ask("trial", {{"tub", "tub-1"}, {"actuator", "mister"}})->json["over"], false);
  rig.pass(seconds(20));
  const auto verdict = rig.ask("trial", {{"tub", "tub-1"}, {"actuator", "mister"}})->json;
  EXPECT_EQ(verdict["over"], true);
  EXPECT_EQ(verdict["good"], true);
  EXPECT_EQ(verdict["text"],
            "mister ran for 3s: it confirmed running after 400ms and rest 200ms after its end; "
            "humidity went from 88 to 90.5 % within 8s.");
  ASSERT_EQ(rig.record.all<HandEnded>().size(), 1U);
  EXPECT_EQ(rig.record.all<HandEnded>()[0].text, verdict["text"]);
}

TEST_F(HandsTest, ADrillsRunIsNotWatched) {
  begin();
  rig.reading("88");
  const auto said = rig.ask(
      "try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "3s"}, {"unwatched", true}});
  ASSERT_FALSE(said->error) << said->error->text;
  EXPECT_TRUE(rig.ask("trial", {{"tub", "tub-1"}, {"actuator", "mister"}})->error);
  rig.pass(seconds(3));
  ASSERT_EQ(rig.record.all<HandEnded>().size(), 1U);
  EXPECT_EQ(rig.record.all<HandEnded>()[0].text, "mister was tried");
}

TEST_F(HandsTest, WhatRanMeanwhileIsToldWithTheTrial) {
  Loaded l = Rig::loaded("fruiting");
  ActuatorPlan fan;
  fan.id = "fan";
  fan.effect = Effect::fresh_air;
  fan.output.id = {"tub-1", "fan"};
  l.grow.chambers[0].actuators.push_back(fan);
  begin(l);
  rig.warden.output_report({{"tub-1", "fan"}, OutputHealth::ready, {}, ""});
  rig.reading("88");
  ASSERT_FALSE(rig.ask("try", {{"tub", "tub-1"}, {"actuator", "fan"}, {"for", "3s"}})->error);
  rig.reading("84");
  rig.reading("86");
  const auto trial = rig.ask("trial", {{"tub", "tub-1"}, {"actuator", "fan"}})->json;
  EXPECT_THAT(std::string(trial["text"]), HasSubstr("(mister ran meanwhile)"));
}

TEST_F(HandsTest, ATrialThatItsLimitsForbidIsRefusedWithTheReason) {
  Loaded l = Rig::loaded("fruiting");
  l.grow.chambers[0].actuators[0].limits.shortest_rest = minutes(5);
  l.grow.chambers[0].actuators[0].limits.shortest_run = seconds(2);
  begin(l);
  rig.reading("88");
  const auto brief = rig.ask("try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "1s"}});
  ASSERT_TRUE(brief->error);
  EXPECT_THAT(brief->error->text, HasSubstr("at least 2s"));
  const auto soon = rig.ask("try", {{"tub", "tub-1"}, {"actuator", "mister"}, {"for", "3s"}});
  ASSERT_TRUE(soon->error);
  EXPECT_THAT(soon->error->text, HasSubstr("its shortest rest holds it"));
  EXPECT_TRUE(rig.record.all<HandTaken>().empty());
  EXPECT_TRUE(rig.status()["chambers"][0]["hands"].empty());
}

TEST_F(HandsTest, DecisionsAndRunsGoToTheHistory) {
  begin();
  rig.reading("80");
  ASSERT_FALSE(rig.record.decided.empty());
  EXPECT_EQ(rig.record.decided.back().level, kRun);
  EXPECT_TRUE(rig.record.runs.empty());
  rig.pass(seconds(7));
  rig.reading("88");
  ASSERT_EQ(rig.record.runs.size(), 1U);
  EXPECT_EQ(rig.record.runs[0].lasted, seconds(7));
  EXPECT_EQ(rig.record.runs[0].began.boot, rig.clock.at - seconds(7));
  EXPECT_EQ(rig.record.runs[0].began.wall, rig.clock.wall_at - seconds(7));
}

TEST_F(HandsTest, AWallClockThatJumpsIsToldToTheRecordOnce) {
  begin();
  const std::size_t before = rig.record.clock_settings.size();
  rig.clock.wall_at += hours(3);
  rig.pass(seconds(1));
  rig.reading("88");
  rig.pass(minutes(10));
  EXPECT_EQ(rig.record.clock_settings.size(), before + 1);
}

}  // namespace
}  // namespace fakes
