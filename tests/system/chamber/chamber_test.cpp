// tubwarden-chamber against a real broker: it speaks as the folder's sensors would, and is moved by
// the folder's relay topics.
#include <gtest/gtest.h>
#include <signal.h>

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "parts/parts.hpp"

namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using parts::Heard;

constexpr const char* kSite = R"(site: shed
broker: {url: "URL"}
room:
  temperature: {topic: shed/room, at: /air/t}
  humidity: {topic: shed/room, at: /air/rh}
  co2: 430 ppm
)";

constexpr const char* kProfile = R"(profile: button
phases:
  - phase: fruiting
    air_temperature: {keep: [15 C, 18 C]}
    humidity: {keep: [85 %, 90 %]}
  - phase: empty
)";

// A mister strong for its air, so that a test need not wait for it.
constexpr const char* kTub = R"(tub: tub-1
batch: B-01
profile: button
phase: fruiting
substrate: 5 kg
air:
  net_volume: 40 L
  sensors:
    - id: air
      topic: shed/tub-1/air
      humidity: {at: /rh, scale: 0.5, offset: 1}
      temperature: {at: /t, unit: K, place: air}
      co2: {at: /co2}
      time: {at: /when, form: rfc3339}
    - {id: bed, topic: shed/tub-1/bed, temperature: {unit: F, place: substrate}}
  actuators:
    - id: mister
      effect: humidify
      rate: 150 g/h
      driver: mqtt_relay
      wiring: {topic: shed/tub-1/mister, run: "on", rest: "off", confirm: shed/tub-1/mister/now}
      safe: rest
      falls_by_itself_after: never
    - id: fan
      effect: fresh_air
      rate: 2 m3/h
      driver: mqtt_relay
      wiring: {topic: shed/tub-1/fan, run: "1", rest: "0", confirm: shed/tub-1/fan/now}
      safe: rest
      falls_by_itself_after: 2s
)";

const std::string kAir = "shed/tub-1/air";
const std::string kMister = "shed/tub-1/mister";
const std::string kMisterNow = kMister + "/now";
const std::string kFan = "shed/tub-1/fan";
const std::string kFanNow = kFan + "/now";

double humidity_of(const Heard& heard) {
  return json::parse(heard.payload).at("rh").get<double>() * 0.5 + 1.0;
}

class ChamberProgram : public testing::Test {
 protected:
  ChamberProgram() : listener_(broker_.url(), {"shed/#"}) {
    std::string site = kSite;
    folder_.write("config/tubwarden.yaml", site.replace(site.find("URL"), 3, broker_.url()));
    folder_.write("config/profiles/button.yaml", kProfile);
    folder_.write("config/tubs/tub-1.yaml", kTub);
  }

  std::vector<std::string> argv(std::vector<std::string> more) const {
    std::vector<std::string> all = {TUBWARDEN_BIN_DIR "/tubwarden-chamber",
                                    "--config",
                                    (folder_.path() / "config").string(),
                                    "--plugins",
                                    TUBWARDEN_PLUGIN_DIR,
                                    "--host",
                                    TUBWARDEN_BIN_DIR "/tubwarden-plugin-host"};
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }

  void start(std::vector<std::string> more) {
    program_ = std::make_unique<parts::Process>(argv(std::move(more)));
    ASSERT_TRUE(next(kAir)) << program_->err();
  }

  /// The next message on a topic, of those not looked at yet.
  std::optional<Heard> next(
      const std::string& topic,
      const std::function<bool(const Heard&)>& test = [](const Heard&) { return true; },
      std::chrono::milliseconds limit = 15s) {
    return listener_.wait_for(topic, test, limit, listener_.heard(topic).size());
  }
  std::optional<Heard> now_says(const std::string& topic, const std::string& payload,
                                std::chrono::milliseconds limit = 10s) {
    return listener_.wait_for(
        topic, [&](const Heard& h) { return h.payload == payload; }, limit);
  }
  void tell(const std::string& topic, const std::string& payload) {
    listener_.clear();
    parts::publish(broker_, topic, payload);
  }

  parts::TempFolder folder_;
  parts::Mosquitto broker_;
  parts::Listener listener_;
  std::unique_ptr<parts::Process> program_;
};

TEST_F(ChamberProgram, SpeaksInTheFormsTheFolderAsksFor) {
  start({"--every", "200ms", "--room-temperature", "20", "--room-humidity", "50"});
  const auto air = next(kAir);
  ASSERT_TRUE(air);
  const json said = json::parse(air->payload);
  EXPECT_EQ(said.size(), 4u) << air->payload;
  EXPECT_NEAR(humidity_of(*air), 80.0, 12.0) << "half and scale undone: neither 40 nor 160";
  EXPECT_NEAR(said.at("t").get<double>(), 273.15 + 20.0, 1.0);
  EXPECT_NEAR(said.at("co2").get<double>(), 430.0, 60.0) << "the room's, which the folder gives";
  EXPECT_EQ(said.at("when").get<std::string>().size(),
            std::string("2026-11-25T10:00:00.000Z").size());
  EXPECT_FALSE(air->retained);

  const auto bed = next("shed/tub-1/bed");
  ASSERT_TRUE(bed);
  char* end = nullptr;
  EXPECT_NEAR(std::strtod(bed->payload.c_str(), &end), 68.0, 1.0) << "20 C in Fahrenheit";
  EXPECT_EQ(*end, '\0') << "a plain number: " << bed->payload;

  const auto room = next("shed/room");
  ASSERT_TRUE(room);
  const json around = json::parse(room->payload).at("air");
  EXPECT_NEAR(around.at("t").get<double>(), 20.0, 1.6) << "its day swings by 1.5 C";
  EXPECT_NEAR(around.at("rh").get<double>(), 50.0, 6.0);
}

TEST_F(ChamberProgram, TheMistersTopicRaisesHumidityAndItsConfirmationSpeaks) {
  start({"--every", "200ms", "--load", "empty"});
  ASSERT_TRUE(now_says(kMisterNow, "off")) << "it says how it stands once it is there";
  const auto before = next(kAir);
  ASSERT_TRUE(before);

  tell(kMister, "perhaps");  // neither of its payloads: no confirmation, no mist
  parts::publish(broker_, kMister, "on");
  ASSERT_TRUE(now_says(kMisterNow, "on"));
  const double higher = humidity_of(*before) + 8.0;
  const auto misted = next(
      kAir, [&](const Heard& h) { return humidity_of(h) > higher; }, 30s);
  EXPECT_TRUE(misted);
  EXPECT_EQ(listener_.heard(kMisterNow).size(), 1u);

  tell(kMister, "off");
  EXPECT_TRUE(now_says(kMisterNow, "off"));
}

TEST_F(ChamberProgram, ARelayWithATimerFallsByItself) {
  start({"--every", "1s"});
  tell(kFan, "1");
  const auto ran = now_says(kFanNow, "1");
  ASSERT_TRUE(ran);
  const auto fell = now_says(kFanNow, "0");
  ASSERT_TRUE(fell);
  const std::chrono::duration<double> after = fell->at - ran->at;
  EXPECT_GT(after.count(), 1.8);
  EXPECT_LT(after.count(), 4.0) << "falls_by_itself_after: 2s";
}

TEST_F(ChamberProgram, GoesOnAfterTheBrokerWasAway) {
  start({"--every", "200ms"});
  broker_.kill();
  broker_.restart();
  listener_.clear();
  ASSERT_TRUE(next(
      kAir, [](const Heard&) { return true; }, 40s))
      << program_->err();
  tell(kMister, "on");
  EXPECT_TRUE(now_says(kMisterNow, "on")) << "it listens again";
}

TEST_F(ChamberProgram, EndsCleanlyAndSaysWhatItCannotPlay) {
  start({"--talk"});
  EXPECT_TRUE(
      parts::wait_until([&] { return program_->out().find("tub-1: ") != std::string::npos; }, 10s));
  program_->signal(SIGTERM);
  EXPECT_EQ(program_->wait(5s), 0);

  const parts::Ran unknown = parts::run(argv({"--chamber", "tub-9"}));
  EXPECT_EQ(unknown.status, 1);
  EXPECT_NE(unknown.err.find("tub-9"), std::string::npos);
  const parts::Ran often = parts::run(argv({"--every", "5ms"}));
  EXPECT_EQ(often.status, 2);
  EXPECT_NE(often.err.find("200ms"), std::string::npos);
  EXPECT_EQ(parts::run(argv({"--load", "full"})).status, 2);
}

}  // namespace
