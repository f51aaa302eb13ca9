// Hands at the tub, on real parts: the daemon, its record, a broker, and the model as the tub. The
// model opens its lid when it is told to.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <algorithm>

#include "rig.hpp"

namespace {

using namespace rig;
using testing::Contains;
using testing::HasSubstr;

const std::string kMister = "shed/tub-1/mister";

struct Hands : Rig, ::testing::Test {
  void SetUp() override {
    std::string profile = default_profile();
    const std::string delay = "on_delay: 1s";
    write_profile(profile.replace(profile.find(delay), delay.size(), "on_delay: 8s"));
    std::string tub = text_of({});
    const std::string wiring = "mister, run: \"1\", rest: \"0\"";
    tub.replace(tub.find(wiring), wiring.size(), wiring + ", confirm: shed/tub-1/mister/now");
    const std::string rate = "rate: 40 g/h";
    tub.replace(tub.find(rate), rate.size(), "rate: 80 g/h");  // so that nobody waits
    folder().write(config("tubs/tub-1.yaml"), tub);
    start();
    cli({"phase", "tub-1", "casing"});
  }
  /// Filled while the phase warns of nothing, so that no alert stands from before.
  void play(const std::string& room_humidity) {
    chamber_ = std::make_unique<parts::Process>(std::vector<std::string>{
        std::string(TUBWARDEN_BIN_DIR) + "/tubwarden-chamber", "--config",
        (folder().path() / "config").string(), "--plugins", TUBWARDEN_PLUGIN_DIR, "--every",
        "200ms", "--room-humidity", room_humidity});
    ASSERT_TRUE(wait([&] { return humidity() >= 85; }, 40s)) << "the tub is not held\n" << log();
    cli({"phase", "tub-1", "fruiting"});
  }
  void lid_off() { chamber_->signal(SIGUSR1); }
  void lid_on() { chamber_->signal(SIGUSR2); }
  double humidity() {
    for (const json& q : json(chamber("tub-1")["air"])) {
      if (q["quantity"] == "humidity" && q["usable"] == true) return q["value"].get<double>();
    }
    return 0;
  }
  bool has_cause(const std::string& cause) {
    const auto causes = alert_causes("tub-1");
    return std::find(causes.begin(), causes.end(), cause) != causes.end();
  }
  std::unique_ptr<parts::Process> chamber_;
};

TEST_F(Hands, AttendDuringALidOpenBringsNoAlertAndNoMistAndComesBackByItself) {
  play("50");
  parts::Listener listener(broker().url(), {kMister});
  const parts::Ran attend = cli({"attend", "tub-1", "35s"});
  ASSERT_EQ(attend.status, 0) << attend.err;
  EXPECT_THAT(attend.out, HasSubstr("hands in tub-1 for 35s"));
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 0.0; }, 2s));
  const std::size_t before = listener.heard(kMister).size();
  lid_off();
  ASSERT_TRUE(wait([&] { return humidity() < 69; }, 30s)) << "the model's lid did nothing";
  ASSERT_EQ(chamber("tub-1")["hands"].size(), 1U) << "the drop took longer than the attend";
  lid_on();
  EXPECT_THAT(cli({"status"}).out, HasSubstr("hands are in the tub"));
  bool alerted = false;
  ASSERT_TRUE(wait(
      [&] {
        alerted = alerted || has_cause("humidity_low");
        return chamber("tub-1")["hands"].empty();
      },
      40s));
  EXPECT_FALSE(alerted);
  for (std::size_t i = before; i < listener.heard(kMister).size(); ++i) {
    if (listener.heard(kMister)[i].payload == "1") {
      EXPECT_EQ(i + 1, listener.heard(kMister).size()) << "it misted with hands in the tub";
    }
  }
  ASSERT_TRUE(wait([&] { return humidity() >= 85; }, 30s)) << "it did not come back";
  EXPECT_FALSE(has_cause("humidity_low"));
  std::vector<std::string> kinds;
  for (const json& row : json(timeline("B-01"))) kinds.push_back(row["kind"]);
  EXPECT_THAT(kinds, Contains("hand"));
  EXPECT_THAT(kinds, Contains("hand_end"));

  // The same with the mister held at rest alone: that quiets nothing.
  ASSERT_EQ(cli({"keep-at", "tub-1", "mister", "rest", "1m"}).status, 0);
  lid_off();
  EXPECT_TRUE(wait([&] { return has_cause("humidity_low"); }, 45s));
}

TEST_F(Hands, TrySaysWhatItMoved) {
  play("80");
  // At rest, and long enough since its last run.
  ASSERT_EQ(cli({"keep-at", "tub-1", "mister", "rest", "10s"}).status, 0);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 0.0; }, 5s));
  parts::Ran tried;
  wait([&] {  // its shortest rest is 200 ms
    tried = cli({"try", "tub-1", "mister", "3s"});
    return tried.err.find("shortest rest") == std::string::npos;
  });
  EXPECT_EQ(tried.status, 0) << tried.out << tried.err;
  EXPECT_THAT(tried.out, HasSubstr("mister ran for 3s: it confirmed running after"));
  EXPECT_THAT(tried.out, HasSubstr("went from"));
  const parts::Ran wrong = cli({"try", "tub-1", "mister", "2m"});
  EXPECT_EQ(wrong.status, 1);
  EXPECT_THAT(wrong.err, HasSubstr("at most 1m"));
}

TEST_F(Hands, AKilledDaemonTakesThemUpAgain) {
  cli({"phase", "tub-1", "fruiting"});
  air("tub-1", 80);
  ASSERT_EQ(cli({"attend", "tub-1", "3m"}).status, 0);
  ASSERT_EQ(cli({"keep-at", "tub-1", "mat", "rest", "1h"}).status, 0);
  daemon().signal(SIGKILL);
  ASSERT_TRUE(daemon().wait(10s));
  start();
  const json hands = chamber("tub-1")["hands"];
  ASSERT_EQ(hands.size(), 2U) << hands.dump(2) << log();
  for (const json& hand : hands) {
    const double left = hand["left_s"];
    const double whole = hand["kind"] == "attend" ? 180 : 3600;
    EXPECT_LT(left, whole);
    EXPECT_GT(left, whole - 60);
  }
  air("tub-1", 80);
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 0.0);
  ASSERT_EQ(cli({"attend", "tub-1", "end"}).status, 0);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 100.0; }, 5s));
}

TEST_F(Hands, WrongWordsSayWhatIsAllowed) {
  EXPECT_EQ(cli({"attend", "tub-1"}).status, 2);
  EXPECT_EQ(cli({"keep-at", "tub-1", "mat", "rest"}).status, 2);
  const parts::Ran ran = cli({"keep-at", "tub-1", "mat", "half", "1h"});
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("'rest' or 'run'"));
}

}  // namespace
