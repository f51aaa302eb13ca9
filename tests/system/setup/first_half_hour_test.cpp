// The first half hour as a script: `init`, `listen`, a dry run, then a held tub. Every step by the
// programs a grower has; the tub is the model.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>
#include <memory>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "parts/parts.hpp"

namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

const std::string kBin = TUBWARDEN_BIN_DIR;
const std::string kAir = "shed/tub-1/air";
const std::string kMister = "shed/tub-1/mister";

struct FirstHalfHour : testing::Test {
  parts::Mosquitto broker;
  parts::TempFolder folder;
  std::string config = (folder.path() / "tubwarden").string();
  std::string socket = (folder.path() / "tubwarden-record/control.sock").string();
  std::unique_ptr<parts::Process> chamber, daemon;

  parts::Ran cli(std::vector<std::string> words, std::chrono::milliseconds limit = 30s) {
    words.insert(words.begin(), kBin + "/tubwarden");
    return parts::run(std::move(words), limit);
  }
  parts::Ran asked(std::vector<std::string> words) {
    words.insert(words.begin(), {"--socket", socket});
    return cli(std::move(words));
  }
  parts::Ran init(std::vector<std::string> more = {}) {
    // A mister that a test need not wait for; its relay falls by itself.
    std::vector<std::string> words = {"init",
                                      config,
                                      "--yes",
                                      "--plugins",
                                      TUBWARDEN_PLUGIN_DIR,
                                      "--site",
                                      "shed",
                                      "--broker",
                                      broker.url(),
                                      "--mister-rate",
                                      "80 g/h",
                                      "--mister-falls",
                                      "10s",
                                      "--fan-falls",
                                      "30s",
                                      "--room-temperature",
                                      "17 C",
                                      "--room-humidity",
                                      "55 %",
                                      "--phase",
                                      "fruiting"};
    words.insert(words.end(), more.begin(), more.end());
    return cli(std::move(words));
  }
  void play() {
    chamber = std::make_unique<parts::Process>(
        std::vector<std::string>{kBin + "/tubwarden-chamber", "--config", config, "--plugins",
                                 TUBWARDEN_PLUGIN_DIR, "--every", "500ms"});
  }
  void start(std::vector<std::string> more = {}) {
    std::vector<std::string> words = {kBin + "/tubwardend", "--config", config, "--plugins",
                                      TUBWARDEN_PLUGIN_DIR};
    words.insert(words.end(), more.begin(), more.end());
    daemon = std::make_unique<parts::Process>(words);
    ASSERT_TRUE(parts::wait_until(
        [&] {
          const auto s = status();
          return s && (*s)["broker"]["up"] == true;
        },
        20s))
        << daemon->err();
  }
  void stop() {
    daemon->signal(SIGTERM);
    ASSERT_TRUE(daemon->wait(10s));
  }
  std::optional<json> status() {
    const parts::Ran ran = asked({"status", "--json"});
    return ran.status == 0 ? std::optional(json::parse(ran.out)) : std::nullopt;
  }
  double humidity() {
    const auto s = status();
    if (!s) return 0;
    for (const json& q : (*s)["chambers"][0]["air"]) {
      if (q["quantity"] == "humidity" && q["usable"] == true) return q["value"].get<double>();
    }
    return 0;
  }
  std::string text_of(const std::string& file) {
    std::ifstream stream(std::filesystem::path(config) / file);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
  }
};

TEST_F(FirstHalfHour, FromAnEmptyFolderToAHeldTub) {
  const parts::Ran made = init();
  ASSERT_EQ(made.status, 0) << made.out << made.err;
  EXPECT_THAT(made.out, AllOf(HasSubstr("tubwarden listen"), HasSubstr("--dry"),
                              HasSubstr("phase tub-1 fruiting")))
      << "it says what comes next";
  EXPECT_EQ(cli({"check", config, "--plugins", TUBWARDEN_PLUGIN_DIR}).status, 0);

  play();
  const parts::Ran heard = cli({"listen", "--config", config, "--for", "4s", "--json"});
  ASSERT_EQ(heard.status, 0) << heard.err;
  EXPECT_THAT(heard.out, AllOf(HasSubstr(kAir), HasSubstr("humidity"), HasSubstr("/rh")));
  const parts::Ran page = cli({"listen", "--config", config, "--for", "3s"});
  EXPECT_THAT(page.out, AllOf(HasSubstr("topic: " + kAir), HasSubstr("humidity: {at: /rh}")))
      << "lines to paste";

  parts::Listener relay(broker.url(), {kMister});
  start({"--dry"});
  EXPECT_THAT(asked({"status"}).out, HasSubstr("dry"));
  EXPECT_EQ(asked({"phase", "tub-1", "fruiting"}).status, 0);
  EXPECT_TRUE(
      parts::wait_until([&] { return daemon->err().find("would") != std::string::npos; }, 20s))
      << "it says what it would do\n"
      << daemon->err();
  stop();
  EXPECT_TRUE(relay.heard(kMister).empty()) << "a dry run switches nothing";

  start();
  ASSERT_EQ(asked({"batch", "list", "--json"}).status, 0);
  EXPECT_THAT(asked({"batch", "list"}).out, Not(HasSubstr("B-01")))
      << "what was said to the dry run is not in the record";
  ASSERT_EQ(asked({"phase", "tub-1", "fruiting"}).status, 0);
  EXPECT_TRUE(parts::wait_until([&] { return humidity() >= 85 && humidity() <= 90; }, 90s))
      << humidity() << "\n"
      << asked({"status"}).out;
  EXPECT_FALSE(relay.heard(kMister).empty());
  stop();
}

TEST_F(FirstHalfHour, InitNeverWritesOverAFile) {
  ASSERT_EQ(init().status, 0);
  const std::string site = text_of("tubwarden.yaml"), tub = text_of("tubs/tub-1.yaml");
  const parts::Ran again =
      cli({"init", config, "--yes", "--plugins", TUBWARDEN_PLUGIN_DIR, "--tub", "tub-1"});
  EXPECT_EQ(again.status, 1);
  EXPECT_THAT(again.err, HasSubstr("tub-1"));
  EXPECT_EQ(text_of("tubwarden.yaml"), site);
  EXPECT_EQ(text_of("tubs/tub-1.yaml"), tub);
  // Another tub is added beside it.
  const parts::Ran second =
      cli({"init", config, "--yes", "--plugins", TUBWARDEN_PLUGIN_DIR, "--mister-falls", "10s"});
  ASSERT_EQ(second.status, 0) << second.err;
  EXPECT_THAT(text_of("tubs/tub-2.yaml"), HasSubstr("batch: B-02"));
  EXPECT_EQ(cli({"check", config, "--plugins", TUBWARDEN_PLUGIN_DIR}).status, 0);
}

TEST_F(FirstHalfHour, WhatWouldBeRefusedIsNotWritten) {
  // A heater that nothing ends, and without a cut-out of its own.
  const parts::Ran hot = init({"--heater-driver", "mqtt_relay", "--heater-falls", "never"});
  EXPECT_NE(hot.status, 0);
  EXPECT_THAT(hot.err, HasSubstr("cut"));
  EXPECT_FALSE(std::filesystem::exists(config));
  const parts::Ran wrong = init({"--net-volume", "40"});
  EXPECT_EQ(wrong.status, 2);
  EXPECT_THAT(wrong.err, HasSubstr("unit"));
  EXPECT_FALSE(std::filesystem::exists(config));
  // Without a terminal and without --yes there is nobody to ask.
  const parts::Ran nobody = cli({"init", config, "--plugins", TUBWARDEN_PLUGIN_DIR});
  EXPECT_EQ(nobody.status, 2);
  EXPECT_THAT(nobody.err, HasSubstr("--yes"));
  EXPECT_FALSE(std::filesystem::exists(config));
}

TEST_F(FirstHalfHour, ListenSaysWhyItHearsNothing) {
  const parts::Ran away = cli({"listen", "--broker", "mqtt://127.0.0.1:1", "--for", "1s"});
  EXPECT_EQ(away.status, 1);
  EXPECT_THAT(away.err, HasSubstr("127.0.0.1:1"));
  const parts::Ran quiet = cli({"listen", "--broker", broker.url(), "--for", "1s"});
  EXPECT_EQ(quiet.status, 0);
  EXPECT_FALSE(quiet.out.empty()) << "silence is said";
}

}  // namespace
