// The folders that are shipped, checked against what the real plugins say of themselves through the
// real host: the rows that unit tests write down by hand must not drift from them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "parts/parts.hpp"
#include "settings/settings.hpp"
#include "shell/hosts/describe.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

PluginCatalogue real_plugins() {
  std::vector<std::string> problems;
  PluginCatalogue plugins =
      describe_all(TUBWARDEN_PLUGIN_DIR, TUBWARDEN_BIN_DIR "/tubwarden-plugin-host", &problems);
  EXPECT_THAT(problems, IsEmpty());
  EXPECT_TRUE(plugins.contains("mqtt_relay"));
  return plugins;
}

TEST(RealPlugins, TakeTheShippedWiring) {
  const Loaded loaded =
      load_folder(std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config", real_plugins());
  EXPECT_EQ(check_report(loaded), "no errors in 6 files\n");
}

TEST(RealPlugins, RefuseWhatTheyDoNotKnow) {
  parts::TempFolder folder;
  const std::filesystem::path shipped = std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config";
  for (const char* name : {"tubwarden.yaml", "profiles/button.yaml", "chambers/closet.yaml",
                           "tubs/tub-2.yaml", "tubs/jars.yaml"}) {
    folder.write(name, parts::read_file(shipped / name));
  }
  std::string closet = parts::read_file(shipped / "chambers/closet.yaml");
  const std::string fan = "{topic: cellar/closet/fan, run: \"1\", rest: \"0\"}";
  closet.replace(closet.find(fan), fan.size(), "{tpic: cellar/closet/fan, run: \"1\"}");
  folder.write("chambers/closet.yaml", closet);
  std::vector<std::string> texts;
  for (const Finding& f : load_folder(folder.path(), real_plugins()).findings) {
    texts.push_back(f.text);
  }
  EXPECT_THAT(texts, ElementsAre("mqtt_relay needs 'topic' here (topic): Where the relay listens.",
                                 "mqtt_relay needs 'rest' here (text): The payload that makes it "
                                 "rest.",
                                 "mqtt_relay has no option 'tpic'; nearest is 'topic'; allowed: "
                                 "topic, run, rest, confirm"));
}

TEST(RealPlugins, TakeTheChannelsThatTheSampleShowsInComments) {
  parts::TempFolder folder;
  const std::filesystem::path shipped = std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config";
  for (const char* name : {"profiles/button.yaml", "chambers/closet.yaml", "tubs/tub-1.yaml",
                           "tubs/tub-2.yaml", "tubs/jars.yaml"}) {
    folder.write(name, parts::read_file(shipped / name));
  }
  const std::string sample = parts::read_file(shipped / "tubwarden.yaml");
  const std::string none = "\nchannels: []\n";
  ASSERT_NE(sample.find(none), std::string::npos);
  std::string text = sample.substr(0, sample.find(none)) + "\nchannels:\n";
  std::istringstream lines(sample.substr(sample.find(none) + none.size()));
  for (std::string line; std::getline(lines, line);) {
    ASSERT_TRUE(line.starts_with("#")) << line;
    text += line.substr(1) + "\n";
  }
  folder.write("tubwarden.yaml", text);
  const Loaded loaded = load_folder(folder.path(), real_plugins());
  EXPECT_EQ(check_report(loaded), "no errors in 6 files\n");
  ASSERT_TRUE(loaded.site.has_value());
  EXPECT_EQ(loaded.site->channels.size(), 6u);
}

TEST(RealPlugins, SayWhetherTheyTakeLevels) {
  const PluginCatalogue plugins = real_plugins();
  EXPECT_TRUE(plugins.at("simulated").levels);
  EXPECT_FALSE(plugins.at("mqtt_relay").levels);
}

}  // namespace
}  // namespace tubwarden
