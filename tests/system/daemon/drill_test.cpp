// The drill on real parts: a relay played by the model, whose host, daemon and broker are really
// cut off; the test is the person at the other terminal.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <future>

#include "rig.hpp"

namespace {

using namespace rig;
using testing::HasSubstr;

struct DrillTest : Rig, ::testing::Test {
  void SetUp() override {
    std::string tub = text_of({});
    const std::string wiring = "mat, run: \"on\", rest: \"off\"";
    tub.replace(tub.find(wiring), wiring.size(), wiring + ", confirm: shed/tub-1/mat/now");
    folder().write(config("tubs/tub-1.yaml"), tub);
    start();
    cli({"phase", "tub-1", "fruiting"});
    chamber_ = std::make_unique<parts::Process>(
        std::vector<std::string>{std::string(TUBWARDEN_BIN_DIR) + "/tubwarden-chamber", "--config",
                                 (folder().path() / "config").string(), "--plugins",
                                 TUBWARDEN_PLUGIN_DIR, "--every", "200ms"});
    ASSERT_TRUE(wait([&] {  // it has read its folder and speaks
      const json air = chamber("tub-1")["air"];
      return !air.empty() && !air[0]["value"].is_null();
    }));
    // Held at rest, so that only the drill runs it.
    ASSERT_EQ(cli({"keep-at", "tub-1", "mat", "rest", "1h"}).status, 0);
  }
  parts::Ran drill(std::vector<std::string> words) {
    std::vector<std::string> argv = {std::string(TUBWARDEN_BIN_DIR) + "/tubwarden", "--socket",
                                     (folder().path() / "control.sock").string(), "drill"};
    argv.insert(argv.end(), words.begin(), words.end());
    return parts::run(argv, 120s);
  }
  std::string drilled() {
    for (const json& row : json(timeline("B-01"))) {
      const std::string text = row["text"];
      if (text.rfind("drill: ", 0) == 0) return text;
    }
    return "";
  }
  std::unique_ptr<parts::Process> chamber_;
};

TEST_F(DrillTest, AKilledHostFallsAndItIsInTheRecord) {
  const parts::Ran ran = drill({"tub-1", "mat", "--cut", "host", "--yes", "--json"});
  ASSERT_EQ(ran.status, 0) << ran.out << ran.err;
  const json cut = json::parse(ran.out)["cuts"][0];
  EXPECT_EQ(cut["fall"], "fell") << cut.dump(2);
  EXPECT_LT(cut["after_s"], 5.0);
  EXPECT_THAT(drilled(), HasSubstr("mat: the host was cut off, and it rested"));
}

TEST_F(DrillTest, AKilledDaemonFallsAndTheRestIsDoneWhenItIsBack) {
  auto ran = std::async(std::launch::async, [&] {
    return drill({"tub-1", "mat", "--cut", "daemon", "--yes", "--json"});
  });
  ASSERT_TRUE(daemon().wait(60s)) << "the drill did not kill it";
  start();  // as a service manager would
  const parts::Ran result = ran.get();
  ASSERT_EQ(result.status, 0) << result.out << result.err;
  const json cut = json::parse(result.out)["cuts"][0];
  EXPECT_EQ(cut["fall"], "fell") << cut.dump(2);
  EXPECT_THAT(drilled(), HasSubstr("mat: the daemon was cut off, and it rested"));
}

TEST_F(DrillTest, WithoutABrokerOnlyEyesTell) {
  parts::Listener heard(broker().url(), {"shed/tub-1/mat"});
  auto ran = std::async(std::launch::async, [&] {
    return drill({"tub-1", "mat", "--cut", "broker", "--yes", "--json"});
  });
  ASSERT_TRUE(heard.wait_for(
      "shed/tub-1/mat", [](const parts::Heard& h) { return h.payload == "on"; }, 60s));
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mat")["level_pct"] == 100.0; }));
  broker().kill();
  ASSERT_TRUE(wait([&] { return status()["broker"]["up"] == false; }));
  broker().restart();
  const parts::Ran result = ran.get();
  ASSERT_EQ(result.status, 0) << result.out << result.err;
  const json cut = json::parse(result.out)["cuts"][0];
  EXPECT_EQ(cut["fall"], "open") << cut.dump(2);
  EXPECT_THAT(std::string(cut["text"]), HasSubstr("nothing here confirms how it stands"));
  EXPECT_THAT(drilled(), HasSubstr("the broker was cut off; nothing here confirms"));
}

// A relay that says it runs, and never that it rests.
TEST_F(DrillTest, ARelayThatHangsIsSaidLoudly) {
  TubText tub;
  tub.id = "tub-2";
  tub.batch = "B-02";
  std::string text = text_of(tub);
  const std::string wiring = "tub-2/mister, run: \"1\", rest: \"0\"";
  text.replace(text.find(wiring), wiring.size(), wiring + ", confirm: shed/tub-2/mister/now");
  text.replace(text.find("longest_run: 60s"), 16, "longest_run: 5s");
  folder().write(config("tubs/tub-2.yaml"), text);
  ASSERT_TRUE(wait([&] {
    const auto s = try_status();
    return s && (*s)["tubs"].size() == 2 && actuator("tub-2", "mister")["health"] == "ready";
  }));
  parts::Listener heard(broker().url(), {"shed/tub-2/mister"});
  auto ran = std::async(std::launch::async, [&] {
    return drill({"tub-2", "mister", "--cut", "host", "--yes", "--json"});
  });
  ASSERT_TRUE(heard.wait_for(
      "shed/tub-2/mister", [](const parts::Heard& h) { return h.payload == "1"; }, 60s));
  publish("shed/tub-2/mister/now", "1");
  const parts::Ran result = ran.get();
  EXPECT_EQ(result.status, 1);
  ASSERT_FALSE(result.out.empty()) << result.err;
  EXPECT_EQ(json::parse(result.out)["cuts"][0]["fall"], "held");
  EXPECT_THAT(result.err, HasSubstr("DID NOT FALL"));
}

TEST_F(DrillTest, WhatCannotBeDrilledIsSaid) {
  EXPECT_THAT(drill({"tub-9", "--yes"}).err, HasSubstr("no tub is called 'tub-9'"));
  EXPECT_THAT(drill({"tub-1", "mist", "--yes"}).err, HasSubstr("no output 'mist'"));
  // Standard input is empty: nobody is there to go on.
  const parts::Ran left = drill({"tub-1", "mat", "--cut", "host"});
  EXPECT_EQ(left.status, 1);
  EXPECT_THAT(left.err, HasSubstr("nothing more is cut"));
}

}  // namespace
