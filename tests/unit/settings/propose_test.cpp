// Proposed sensor lines, read back by the loader itself.
#include "settings/propose.hpp"

#include <gmock/gmock.h>

#include "parts/parts.hpp"
#include "settings/settings.hpp"
#include "settings/yaml_text.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

HeardSensor heard(const std::string& topic, const std::string& payload,
                  std::optional<Duration> every = seconds(5)) {
  return {topic, guess_numbers(topic, payload), every};
}

std::string lines(const std::vector<ProposedSensor>& proposed) {
  std::string all;
  for (const ProposedSensor& sensor : proposed) all += sensor.yaml;
  return all;
}

/// A whole folder whose tub has these sensors.
Loaded loaded(const std::string& sensors) {
  parts::TempFolder folder;
  folder.write("tubwarden.yaml", "site: shed\nbroker: {url: \"mqtt://127.0.0.1\"}\n");
  folder.write("profiles/p.yaml", "profile: p\nphases:\n  - phase: empty\n");
  folder.write("tubs/tub-1.yaml",
               "tub: tub-1\nbatch: B-01\nprofile: p\nphase: empty\nair:\n  net_volume: 40 L\n"
               "  sensors:\n" +
                   sensors);
  return load_folder(folder.path(), {});
}

std::vector<SensorPlan> read_back(const std::vector<ProposedSensor>& proposed) {
  const Loaded read = loaded(lines(proposed));
  for (const Finding& f : read.findings) {
    EXPECT_EQ(f.severity, Severity::warning) << f.told() << "\n" << lines(proposed);
  }
  if (read.grow.chambers.size() != 1) return {};
  return read.grow.chambers[0].sensors;
}

TEST(Propose, AMessageOfThreeQuantitiesIsOneSensor) {
  const auto proposed =
      propose_sensors({heard("shed/tub-1/air", R"({"rh": 87.2, "t": 16.9, "co2": 840})")});
  ASSERT_EQ(proposed.size(), 1u);
  EXPECT_TRUE(proposed[0].sure);
  EXPECT_EQ(proposed[0].yaml,
            "    - id: air\n"
            "      topic: shed/tub-1/air\n"
            "      humidity: {at: /rh}\n"
            "      temperature: {at: /t, place: air}\n"
            "      co2: {at: /co2}\n");
  const auto sensors = read_back(proposed);
  ASSERT_EQ(sensors.size(), 1u);
  EXPECT_EQ(sensors[0].quantities.size(), 3u);
  EXPECT_EQ(sensors[0].stale_after, minutes(2));
}

TEST(Propose, UnitsScalesPlacesAndSilenceAreReadBack) {
  const auto proposed =
      propose_sensors({heard("shed/a", R"({"bed_temp_f": 62.4})"),
                       heard("shed/b", R"({"temperature": 290, "co2_percent": 0.2})", minutes(3))});
  const auto sensors = read_back(proposed);
  ASSERT_EQ(sensors.size(), 2u);
  ASSERT_EQ(sensors[0].quantities.size(), 1u);
  EXPECT_EQ(sensors[0].quantities[0].quantity, Quantity::substrate_temperature);
  EXPECT_EQ(sensors[0].quantities[0].unit, SensorUnit::fahrenheit);
  ASSERT_EQ(sensors[1].quantities.size(), 2u);
  EXPECT_EQ(sensors[1].quantities[0].unit, SensorUnit::kelvin);
  EXPECT_EQ(sensors[1].quantities[1].unit, SensorUnit::percent);
  EXPECT_EQ(sensors[1].stale_after, minutes(12)) << "four times its rhythm";
}

TEST(Propose, APlaceThatNobodySaidIsAskedFor) {
  const auto one = heard("shed/x", R"({"t": 16.9})");
  const auto asked = propose_sensors({one});
  EXPECT_TRUE(asked[0].place_unsaid);
  EXPECT_THAT(asked[0].yaml, HasSubstr("{at: /t, place: air}  # or substrate?\n"));
  const auto told = propose_sensors({one}, GuessedPlace::substrate);
  EXPECT_FALSE(told[0].place_unsaid);
  EXPECT_THAT(told[0].yaml, HasSubstr("{at: /t, place: substrate}\n"));
  EXPECT_EQ(read_back(told)[0].quantities[0].quantity, Quantity::substrate_temperature);
}

TEST(Propose, AGuessByTheValueAloneIsAComment) {
  const auto proposed =
      propose_sensors({heard("shed/x", "87.5"), heard("shed/y", R"({"t": 17, "q": 640})")});
  ASSERT_EQ(proposed.size(), 2u);
  EXPECT_FALSE(proposed[0].sure);
  EXPECT_EQ(proposed[0].yaml,
            "    # - id: x\n"
            "    #   topic: shed/x\n"
            "    #   humidity: {}  # maybe\n");
  const auto sensors = read_back(proposed);
  ASSERT_EQ(sensors.size(), 1u);
  EXPECT_EQ(sensors[0].id, "y");
  EXPECT_EQ(sensors[0].quantities.size(), 1u) << "the maybe in it stays a comment";
  std::string uncommented = proposed[0].yaml;
  for (std::size_t at = 0; (at = uncommented.find("    # ", at)) != std::string::npos; at += 4) {
    uncommented.erase(at + 4, 2);
  }
  EXPECT_EQ(loaded(uncommented).grow.chambers[0].sensors.size(), 1u) << uncommented;
}

TEST(Propose, ASecondOfAKindIsASecondSensor) {
  const auto proposed = propose_sensors(
      {heard("shed/tub-1", R"({"a": {"t": 17, "rh": 88}, "b": {"t": 24, "rh": 91}})"),
       heard("barn/tub-1", R"({"t": 17})")});
  const auto sensors = read_back(proposed);
  ASSERT_EQ(sensors.size(), 3u);
  EXPECT_EQ(sensors[0].id, "tub-1");
  EXPECT_EQ(sensors[1].id, "tub-1-2");
  EXPECT_EQ(sensors[2].id, "tub-1-3");
  EXPECT_EQ(sensors[0].quantities[0].at.substr(0, 3), "/a/");
  EXPECT_EQ(sensors[1].quantities[0].at.substr(0, 3), "/b/");
}

TEST(Propose, NamesComeFromTheLastLevelThatSaysSomething) {
  const std::vector<std::pair<std::string, std::string>> names = {
      {"shed/probe 4/state", "probe-4"},
      {"x/Luft\xc3\xbcr", "Luft-r"},
      {"///", "sensor"},
      {"state", "state"},
      {"a/(b)/sensor", "b"},
  };
  for (const auto& [topic, name] : names) {
    const auto proposed = propose_sensors({heard(topic, R"({"rh": 88})")});
    ASSERT_EQ(proposed.size(), 1u) << topic;
    EXPECT_EQ(proposed[0].id, name);
    EXPECT_EQ(read_back(proposed).at(0).topic, topic) << "read back as it was heard";
  }
}

TEST(Propose, StrangeTopicsAndMembersAreQuoted) {
  const std::string topic = "shed/it's: \"a\" # {tub}, \\1";
  // A topic with # cannot be subscribed to by itself, and is left out.
  EXPECT_TRUE(propose_sensors({heard(topic, R"({"rh": 88})")}).empty());
  const std::string odd = "shed/it's: \"a\" {tub}, \\1";
  const auto sensors = read_back(propose_sensors({heard(odd, R"({"rh, {x}: #1": 88})")}));
  ASSERT_EQ(sensors.size(), 1u);
  EXPECT_EQ(sensors[0].topic, odd);
  EXPECT_EQ(sensors[0].quantities[0].at, "/rh, {x}: #1");
}

TEST(Propose, NumbersInQuotesAndOtherThingsAreNotProposed) {
  EXPECT_TRUE(propose_sensors({heard("shed/x", R"({"rh": "88"})"), heard("shed/m", "1"),
                               heard("shed/b", R"({"battery": 88})")})
                  .empty());
}

TEST(YamlValue, IsPlainOnlyWhereYamlTakesItSo) {
  EXPECT_EQ(yaml_value("cellar/tub-1/air"), "cellar/tub-1/air");
  EXPECT_EQ(yaml_value("/rh"), "/rh");
  for (const char* text : {"", "yes", "Null", "1", "-a", "~", "a b", "a:b", "a#", "*a", "1e3"}) {
    EXPECT_EQ(yaml_value(text), "\"" + std::string(text) + "\"");
  }
  EXPECT_EQ(yaml_value("a\"b\\c\nd"), "\"a\\\"b\\\\c\\x0ad\"");
  EXPECT_EQ(yaml_value("a\xc2\x9b"
                       "2J"),
            "\"a\\x9b2J\"");
  EXPECT_THAT(yaml_value("\xc3\xbc"), Not(HasSubstr("\\x"))) << "UTF-8 stays readable";
}

}  // namespace
}  // namespace tubwarden
