// The main job on real parts: readings by mosquitto_pub, the mister's topic heard by a real
// subscriber.
#include <gtest/gtest.h>

#include "rig.hpp"

namespace {

using namespace rig;

const std::string kMister = "shed/tub-1/mister";
const std::string kMat = "shed/tub-1/mat";

struct Held : Rig, ::testing::Test {
  void SetUp() override {
    write_tub({});
    start();
    cli({"phase", "tub-1", "fruiting"});
    listener =
        std::make_unique<parts::Listener>(broker().url(), std::vector<std::string>{kMister, kMat});
  }
  bool hears(const std::string& topic, const std::string& payload, std::size_t from) {
    return listener
        ->wait_for(
            topic, [&](const parts::Heard& h) { return !h.retained && h.payload == payload; }, 10s,
            from)
        .has_value();
  }
  std::size_t heard(const std::string& topic) { return listener->heard(topic).size(); }
  std::unique_ptr<parts::Listener> listener;
};

TEST_F(Held, MisterRunsAndRestsByTheBand) {
  std::size_t n = heard(kMister);
  air("tub-1", 83.1);
  ASSERT_TRUE(hears(kMister, "1", n)) << log();
  n = heard(kMister);
  air("tub-1", 87.0);
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 100.0)
      << "between the start points it goes on";
  EXPECT_EQ(heard(kMister), n);
  air("tub-1", 87.6);
  ASSERT_TRUE(hears(kMister, "0", n)) << "past the middle it rests, once its shortest run is over";
  n = heard(kMister);
  air("tub-1", 86.5);
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 0.0)
      << "between the start points nothing starts";
  EXPECT_EQ(heard(kMister), n);
  air("tub-1", 86.2);
  ASSERT_TRUE(hears(kMister, "1", n));
  const auto started = listener->heard(kMister).back().at;
  n = heard(kMister);
  publish("shed/tub-1/air", R"({"rh":91,"t":17})");
  const auto rest = listener->wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "0"; }, 10s, n);
  ASSERT_TRUE(rest);
  EXPECT_LT(rest->at - started, 2s) << "a jump past the far edge ends the shortest run of 2 s";
}

TEST_F(Held, PlainFahrenheitSubstrateDrivesTheMat) {
  // keep [16 C, 18 C]: starts below 16.5 C (61.7 F), stops at 17 C (62.6 F).
  std::size_t n = heard(kMat);
  publish("shed/tub-1/bed", "61.0");
  ASSERT_TRUE(hears(kMat, "on", n)) << log();
  n = heard(kMat);
  publish("shed/tub-1/bed", "62.8");
  ASSERT_TRUE(hears(kMat, "off", n));
  n = heard(kMat);
  publish("shed/tub-1/bed", "62.0");
  ASSERT_TRUE(wait([&] {
    for (const json& q : json(chamber("tub-1")["air"])) {
      if (q["quantity"] == "substrate_temperature") {
        return std::abs(q["value"].get<double>() - 16.6667) < 0.001;
      }
    }
    return false;
  }));
  EXPECT_EQ(actuator("tub-1", "mat")["level_pct"], 0.0);
  publish("shed/tub-1/bed", "61.6");
  EXPECT_TRUE(hears(kMat, "on", n));
}

TEST_F(Held, WhyIsASentenceWithReadingRuleAndStop) {
  air("tub-1", 83.1);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 100.0; }));
  const std::string why = ask({"why", "tub-1", "mister"})["lines"][0]["why"];
  EXPECT_NE(why.find("83.1 %"), std::string::npos) << why;
  EXPECT_NE(why.find("86.25 %"), std::string::npos) << why;
  EXPECT_NE(why.find("87.5 %"), std::string::npos) << why;
}

TEST_F(Held, WhatItReadsAndDoesStandsOnTheBroker) {
  parts::Listener topics(broker().url(), {"tubwarden/shed/#"});
  air("tub-1", 83.1);
  ASSERT_TRUE(topics.wait_for(
      "tubwarden/shed/chamber/tub-1/air",
      [](const parts::Heard& h) {
        const json told = json::parse(h.payload);
        return told.value("humidity_pct", 0.0) == 83.1 && told.contains("dew_point_c") &&
               told.contains("humidity_ratio_g_kg") && !told.contains("bed_drying_kpa");
      },
      10s))
      << log();
  ASSERT_TRUE(topics.wait_for(
      "tubwarden/shed/chamber/tub-1/actuator/mister",
      [](const parts::Heard& h) { return json::parse(h.payload)["level_pct"] == 100.0; }, 10s));
  ASSERT_TRUE(topics.wait_for(
      "tubwarden/shed/tub/tub-1/phase",
      [](const parts::Heard& h) { return json::parse(h.payload)["phase"] == "fruiting"; }, 10s));
  ASSERT_TRUE(topics.wait_for(
      "tubwarden/shed/awake",
      [](const parts::Heard& h) { return json::parse(h.payload)["awake"] == true; }, 10s));
}

TEST_F(Held, RetainedReadingDrivesNothingUntilALiveOneComes) {
  stop();
  publish("shed/tub-1/air", R"({"rh":60,"t":17})", true);
  start();
  ASSERT_TRUE(wait([&] {
    for (const json& q : json(chamber("tub-1")["air"])) {
      if (q["quantity"] == "humidity" && q["value"] == 60.0) return true;
    }
    return false;
  })) << "it is shown";
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 0.0);
  const std::size_t n = heard(kMister);
  air("tub-1", 61.0);
  EXPECT_TRUE(hears(kMister, "1", n));
}

TEST_F(Held, OutOfBandAlertIsRaisedOnceAndReturnsOnce) {
  parts::Listener topics(broker().url(), {"tubwarden/shed/alert/#"});
  const std::string topic = "tubwarden/shed/alert/tub-1.humidity_low";
  for (double rh : {65.0, 64.0, 66.0}) air("tub-1", rh);
  ASSERT_TRUE(topics.wait_for(
      topic, [](const parts::Heard& h) { return !h.payload.empty(); }, 15s))
      << log();
  for (double rh : {63.0, 64.5}) air("tub-1", rh);
  EXPECT_EQ(topics.heard(topic).size(), 1U) << "one occurrence, one message";
  const json rows = timeline("B-01");
  int raised = 0;
  for (const json& r : rows) raised += r["kind"] == "alert" ? 1 : 0;
  EXPECT_EQ(raised, 1) << rows.dump(1);
}

TEST(Told, AnAlertReachesTheChannelProgramOnceWithItsText) {
  Rig r;
  const std::string letters = (r.folder().path() / "letters").string();
  r.folder().write("letters", "");
  r.write_site(
      "channels:\n  - id: letters\n    plugin: program\n    wiring: {argv: [/bin/sh, -c, \"cat "
      ">> " +
      letters + "; echo >> " + letters + "\"]}\n");
  r.write_tub({});
  r.start();
  // A tub without a record says so at once; the batch opened, that alert returns.
  ASSERT_TRUE(r.wait([&] {
    return parts::read_file(letters).find("phase_unconfirmed") != std::string::npos;
  })) << r.log();
  r.cli({"phase", "tub-1", "fruiting"});
  ASSERT_TRUE(r.wait([&] { return parts::read_file(letters).find("over: ") != std::string::npos; }))
      << r.log();
  r.air("tub-1", 65.0);
  ASSERT_TRUE(r.wait([&] {
    return parts::read_file(letters).find("humidity_low") != std::string::npos;
  })) << r.log();
  r.air("tub-1", 64.0);
  std::size_t told = 0;
  const std::string all = parts::read_file(letters);
  for (std::size_t at = 0; (at = all.find("tub-1: humidity low", at)) != std::string::npos; ++at)
    ++told;
  EXPECT_EQ(told, 1U) << all;
  EXPECT_NE(all.find("65 %"), std::string::npos) << "the value stands in the message: " << all;
}

}  // namespace
