// F0 of a probe that speaks over a real broker while the vessel is hot.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "parts/parts.hpp"

namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using testing::HasSubstr;

const std::string kCli = std::string(TUBWARDEN_BIN_DIR) + "/tubwarden";

double figure(const json& page, const char* list, const std::string& name) {
  for (const json& f : page.at(list)) {
    if (f.at("name") == name) return f.at("value");
  }
  throw std::runtime_error("no figure " + name);
}

TEST(KitchenProbe, CountsWhatAProbeAt121DegreesIsWorth) {
  parts::Mosquitto broker;
  parts::publish(broker, "shed/cooker", R"({"probe":{"t":400.0}})", true);  // retained: no reading
  parts::Process watching({kCli, "kitchen", "lethality", "--topic", "shed/cooker", "--at",
                           "/probe/t", "--unit", "F", "--for", "3s", "--lethality", "1s",
                           "--broker", broker.url(), "--json"});
  // 249.98 F are 121.1 C: a second there is worth a second.
  while (!watching.wait(100ms)) {
    parts::publish(broker, "shed/cooker", R"({"probe":{"t":249.98}})");
  }
  ASSERT_EQ(watching.wait(0ms), 0) << watching.err();
  const json page = json::parse(watching.out());
  EXPECT_GE(figure(page, "given", "readings"), 5.0);
  EXPECT_NEAR(figure(page, "given", "hottest"), 121.1, 0.01);
  const double minutes = figure(page, "given", "from first to last");
  EXPECT_GT(minutes * 60.0, 1.0);
  EXPECT_NEAR(figure(page, "found", "F0"), minutes, 0.01);
  EXPECT_THAT(page.at("says").at(0).get<std::string>(), HasSubstr("was reached"));
}

TEST(KitchenProbe, ATopicWithoutAReadingIsAnErrorWithTheWayOut) {
  parts::Mosquitto broker;
  parts::Process watching({kCli, "kitchen", "lethality", "--topic", "shed/cooker", "--for", "2s",
                           "--broker", broker.url()});
  while (!watching.wait(200ms)) parts::publish(broker, "shed/cooker", "hot");
  EXPECT_EQ(watching.wait(0ms), 1);
  EXPECT_THAT(watching.err(), HasSubstr("no temperature came on 'shed/cooker'"));
  EXPECT_THAT(watching.err(), HasSubstr("--at"));
}

TEST(KitchenProbe, ALogAndATopicDoNotStandTogether) {
  const auto both = parts::run({kCli, "kitchen", "lethality", "run.csv", "--topic", "t"});
  EXPECT_EQ(both.status, 2);
  EXPECT_THAT(both.err, HasSubstr("one of them"));
  const auto wild = parts::run({kCli, "kitchen", "lethality", "--topic", "shed/#"});
  EXPECT_EQ(wild.status, 2);
  EXPECT_THAT(wild.err, HasSubstr("without + and #"));
}

}  // namespace
