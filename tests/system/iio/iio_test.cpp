// tubwarden-iio-sensor with a real broker; its sensor is a tree of files in a folder.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include "system/daemon/rig.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using testing::HasSubstr;

const std::string kTopic = "shed/tub-1/air", kState = kTopic + "/state";

class Sensor {
 public:
  explicit Sensor(std::string url) : url_(std::move(url)) {
    set("name", "bme280");
    set("in_humidityrelative_input", "70250");
    set("in_temp_input", "17120");
  }
  void set(const std::string& file, const std::string& text) const {
    tree_.write_by_rename("iio:device0/" + file, text + "\n");
  }
  std::string path(const std::string& file) const {
    return (tree_.path() / "iio:device0" / file).string();
  }
  void start(std::vector<std::string> more = {}) {
    std::vector<std::string> words = {TUBWARDEN_BIN_DIR "/tubwarden-iio-sensor",
                                      "--device",
                                      "bme280",
                                      "--topic",
                                      kTopic,
                                      "--broker",
                                      url_,
                                      "--every",
                                      "200ms",
                                      "--root",
                                      tree_.path().string()};
    words.insert(words.end(), more.begin(), more.end());
    process = std::make_unique<parts::Process>(words);
  }
  std::unique_ptr<parts::Process> process;

 private:
  const std::string url_;
  const parts::TempFolder tree_;
};

bool hears(parts::Listener& listener, const std::string& topic, const std::string& payload,
           std::size_t from = 0) {
  return listener
      .wait_for(
          topic, [&](const parts::Heard& h) { return h.payload == payload; }, 10s, from)
      .has_value();
}

TEST(IioSensor, PublishesReadingsAndSaysWhetherItIsThere) {
  const parts::Mosquitto broker;
  parts::Listener listener(broker.url(), {kTopic, kState});
  Sensor sensor(broker.url());
  sensor.start();
  ASSERT_TRUE(hears(listener, kTopic, R"({"humidity_pct":70.25,"temperature_c":17.12})"))
      << sensor.process->err();
  EXPECT_TRUE(hears(listener, kState, "here"));
  // One quantity is lost: the other goes on, and the journal names the file.
  sensor.set("in_humidityrelative_input", "");
  EXPECT_TRUE(hears(listener, kTopic, R"({"temperature_c":17.12})"));
  EXPECT_THAT(sensor.process->err(),
              HasSubstr("iio:device0/in_humidityrelative_input says '', not a number"));
  for (const parts::Heard& heard : listener.heard(kTopic)) EXPECT_FALSE(heard.retained);
  // It says goodbye when it is told to end.
  sensor.process->signal(SIGTERM);
  EXPECT_EQ(sensor.process->wait(5s), 0);
  EXPECT_TRUE(hears(listener, kState, "gone"));
}

TEST(IioSensor, SaysThatASensorIsGoneThatCannotBeReadAndThatItIsBack) {
  const parts::Mosquitto broker;
  parts::Listener listener(broker.url(), {kTopic, kState});
  Sensor sensor(broker.url());
  sensor.start();
  ASSERT_TRUE(hears(listener, kState, "here"));
  sensor.set("name", "other");  // as if its driver was unbound
  ASSERT_TRUE(hears(listener, kState, "gone"));
  EXPECT_THAT(sensor.process->err(), HasSubstr("no sensor is 'bme280'; there are: iio:device0"));
  const std::size_t before = listener.heard(kState).size();
  sensor.set("name", "bme280");
  EXPECT_TRUE(hears(listener, kState, "here", before));
  EXPECT_THAT(sensor.process->err(), HasSubstr("all is read again"));
}

TEST(IioSensor, EndsWhenItsDriverHangsAndTheBrokerSaysIt) {
  const parts::Mosquitto broker;
  parts::Listener listener(broker.url(), {kTopic, kState});
  Sensor sensor(broker.url());
  sensor.start({"--patience", "1s"});
  ASSERT_TRUE(hears(listener, kState, "here"));
  // A pipe nobody writes to: open() does not return, as in a driver whose bus hangs.
  const std::string pipe = sensor.path("pipe");
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  std::filesystem::rename(pipe, sensor.path("in_temp_input"));
  EXPECT_TRUE(hears(listener, kState, "gone"));
  EXPECT_EQ(sensor.process->wait(5s), 1);
  EXPECT_THAT(sensor.process->err(), HasSubstr("the sensor's driver does not answer"));
}

TEST(IioSensor, FeedsTheDaemonWhichMissesItAtOnce) {
  rig::Rig rig;
  rig.write_site();
  rig.write_profile();
  std::string tub = rig::Rig::text_of({});
  const std::string old = "humidity: {at: /rh}\n      temperature: {at: /t, place: air}\n";
  ASSERT_NE(tub.find(old), std::string::npos);
  tub.replace(tub.find(old), old.size(),
              "humidity: {at: /humidity_pct}\n      temperature: {at: /temperature_c, place: air}\n"
              "      gone: {topic: shed/tub-1/air/state, says: gone}\n");
  rig.folder().write(rig.config("tubs/tub-1.yaml"), tub);
  rig.start();
  const auto humidity = [&] {
    for (const json& q : json(rig.chamber("tub-1")["air"])) {
      if (q["quantity"] == "humidity") return q;
    }
    return json();
  };
  const auto is_read = [&] {
    const json q = humidity();
    return q.is_object() && q["usable"] == true && q["value"] == 70.25;
  };
  Sensor sensor(rig.broker().url());
  sensor.start();
  ASSERT_TRUE(rig.wait(is_read)) << sensor.process->err();
  sensor.process->signal(SIGKILL);
  // Not after stale_after, which is 2 min.
  ASSERT_TRUE(rig.wait([&] { return humidity()["usable"] == false; }, 10s));
  sensor.start();
  EXPECT_TRUE(rig.wait(is_read));
}

TEST(IioSensor, ListsWhatThereIsAndNamesWrongWords) {
  const Sensor sensor("");
  const std::string root = std::filesystem::path(sensor.path("x")).parent_path().parent_path();
  const parts::Ran listed =
      parts::run({TUBWARDEN_BIN_DIR "/tubwarden-iio-sensor", "--list", "--root", root});
  EXPECT_EQ(listed.status, 0);
  EXPECT_EQ(listed.out, "iio:device0 'bme280': {\"humidity_pct\":70.25,\"temperature_c\":17.12}\n");
  const parts::Ran wrong = parts::run({TUBWARDEN_BIN_DIR "/tubwarden-iio-sensor", "--devise", "x"});
  EXPECT_EQ(wrong.status, 2);
  EXPECT_THAT(wrong.err, HasSubstr("there is no '--devise'"));
}

}  // namespace
}  // namespace tubwarden
