// The ports of a dry run: everything is said, nothing goes out.
#include "programs/tubwardend/dry_ports.hpp"

#include <gmock/gmock.h>

#include <deque>
#include <nlohmann/json.hpp>

namespace tubwarden {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

const OutputId kMister{"tub-1", "mister"};

OutputPlan plan(const std::string& actuator, const std::string& wiring = "{}") {
  OutputPlan plan;
  plan.id = {"tub-1", actuator};
  plan.driver = "mqtt_relay";
  plan.wiring_json = wiring;
  return plan;
}

struct Dry {
  std::deque<std::function<void()>> posted;
  std::vector<std::string> said;
  std::vector<std::string> reported;
  std::string why = "running for 0s: humidity is 83.1 %; it starts below 86.25 %.";
  DryDrivers drivers{{[this](std::function<void()> work) { posted.push_back(std::move(work)); },
                      [this](const std::string& line) { said.push_back(line); },
                      [this](const OutputId&) { return why; }}};
  Dry() {
    drivers.start([this](const OutputReport& report) {
      reported.push_back(report.id.actuator + " " + std::string(name_of(report.health)));
    });
  }
  void turn() {
    while (!posted.empty()) {
      posted.front()();
      posted.pop_front();
    }
  }
};

TEST(DryDrivers, EveryOutputIsReadyOnTheNextTurn) {
  Dry dry;
  dry.drivers.want({plan("mister"), plan("fan")});
  EXPECT_THAT(dry.reported, IsEmpty()) << "a port never reports from inside a call";
  dry.turn();
  EXPECT_THAT(dry.reported, ElementsAre("mister ready", "fan ready"));
  dry.drivers.want({plan("mister"), plan("fan", R"({"topic":"x"})")});
  dry.turn();
  EXPECT_THAT(dry.reported, ElementsAre("mister ready", "fan ready", "fan ready"))
      << "a changed output is another one";
  dry.drivers.want({plan("mat")});
  dry.drivers.want({});
  dry.turn();
  EXPECT_EQ(dry.reported.size(), 3u) << "one that is gone reports nothing";
  EXPECT_THAT(dry.drivers.hosts(), IsEmpty());
}

TEST(DryDrivers, ACommandIsOneLineWithItsReason) {
  Dry dry;
  dry.drivers.want({plan("mister")});
  dry.drivers.command(kMister, kRun, seconds(5));
  dry.why = "resting for 0s: humidity is 88 %.";
  dry.drivers.command(kMister, kRest, Duration{0});
  EXPECT_THAT(dry.said, ElementsAre("dry run: would run tub-1/mister for at most 5s: humidity is "
                                    "83.1 %; it starts below 86.25 %",
                                    "dry run: would rest tub-1/mister: humidity is 88 %"));
}

TEST(DryDrivers, WhatChangesNothingIsNotSaid) {
  Dry dry;
  dry.drivers.want({plan("mister")});
  dry.drivers.command(kMister, kRest, Duration{0});
  EXPECT_THAT(dry.said, IsEmpty()) << "it rests already";
  dry.drivers.command(kMister, kRun, Duration{0});
  dry.drivers.command(kMister, kRun, Duration{0});
  EXPECT_EQ(dry.said.size(), 1u);
  dry.drivers.command(kMister, kRun, seconds(2));
  EXPECT_EQ(dry.said.size(), 2u) << "a run with an end is a run of its own";
}

TEST(DryDrivers, EndsOnTheNextTurn) {
  Dry dry;
  bool done = false;
  dry.drivers.stop([&] { done = true; });
  EXPECT_FALSE(done);
  dry.turn();
  EXPECT_TRUE(done);
}

TEST(WouldDo, HasLevelAndLength) {
  EXPECT_EQ(would_do(kMister, kRun, Duration{0}, ""), "would run tub-1/mister");
  EXPECT_EQ(would_do(kMister, 425, Duration{0}, ""), "would run tub-1/mister at 42.5 %");
  EXPECT_EQ(would_do(kMister, kRest, seconds(3), "no colon."), "would rest tub-1/mister: no colon");
}

TEST(DryChannels, SayWhomTheyWouldTell) {
  std::vector<std::string> said;
  DryChannels channels([&](const std::string& line) { said.push_back(line); });
  channels.want({{"phone", "program", "{}", {AlertRank::now}}, {"log", "program", "{}", {}}});
  channels.deliver({"k", AlertRank::today, "tub-1: humidity low", "text"});
  channels.deliver({"k", AlertRank::now, "tub-1: too hot", "text"});
  EXPECT_THAT(said, ElementsAre("dry run: would tell log: tub-1: humidity low",
                                "dry run: would tell phone: tub-1: too hot",
                                "dry run: would tell log: tub-1: too hot"));
}

TEST(DryAnswer, IsMarkedAndAnActSaysThatItIsNotKept) {
  using nlohmann::json;
  const json act = json::parse(dry_answer(R"({"entry": 6, "text": "noted for tub-1"})"));
  EXPECT_EQ(act["dry_run"], true);
  EXPECT_EQ(act["text"], "noted for tub-1 (dry run: not kept)");
  const json question = json::parse(dry_answer(R"({"text": "a sentence"})"));
  EXPECT_EQ(question["text"], "a sentence");
  EXPECT_EQ(question["dry_run"], true);
  EXPECT_EQ(dry_answer("[1]"), "[1]");
  EXPECT_EQ(dry_answer("no json"), "no json");
}

}  // namespace
}  // namespace tubwarden
