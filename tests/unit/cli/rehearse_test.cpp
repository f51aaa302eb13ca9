// `tubwarden rehearse` as a person runs it: the sample and the demonstration played by the real
// program, and what it says of files that are wrong.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "parts/parts.hpp"

namespace cli_test {
namespace {

using nlohmann::json;
using testing::AllOf;
using testing::ContainsRegex;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

const std::string kSample = std::string(TUBWARDEN_SOURCE_DIR) + "/config";

parts::Ran rehearse(std::vector<std::string> words) {
  std::vector<std::string> argv = {std::string(TUBWARDEN_BIN_DIR) + "/tubwarden", "rehearse"};
  argv.insert(argv.end(), words.begin(), words.end());
  return parts::run(argv);
}

std::string written(const parts::TempFolder& folder, const std::string& name,
                    const std::string& text) {
  const auto path = folder.path() / name;
  std::ofstream(path) << text;
  return path.string();
}

/// The demonstration's folder, with a port and a place as config/demo/run fills them in.
void copy_demo(const std::filesystem::path& to) {
  const std::filesystem::path from = kSample + "/demo";
  for (const char* file : {"tubwarden.yaml", "profiles/crate.yaml", "tubs/crate-1.yaml"}) {
    std::filesystem::create_directories((to / file).parent_path());
    std::string text = parts::read_file(from / file);
    for (std::size_t at; (at = text.find("@PORT@")) != std::string::npos;)
      text.replace(at, 6, "1883");
    for (std::size_t at; (at = text.find("@SHEET@")) != std::string::npos;)
      text.replace(at, 7, "8437");
    for (std::size_t at; (at = text.find("@HERE@")) != std::string::npos;)
      text.replace(at, 6, "/srv/demo");
    std::ofstream(to / file) << text;
  }
}

TEST(RehearseProgram, PlaysTheSampleWithFaultsAndARoom) {
  parts::TempFolder folder;
  const std::string faults = written(folder, "faults.yaml",
                                     "faults:\n"
                                     "  - {fault: tank_empty, tub: tub-1, at: 6h, for: 4h}\n"
                                     "  - {fault: sensor_dead, tub: tub-1, sensor: air, at: 12h, "
                                     "for: 1h}\n"
                                     "  - {fault: restart, at: 30d, for: 5s}\n");
  const std::string room =
      written(folder, "room.csv", "time,temperature_c,humidity_pct\n0h,15,60\n24h,16,60\n");
  const parts::Ran ran = rehearse({kSample, "--days", "1", "--faults", faults, "--room", room});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.err, "tubwarden: " + faults + ":4: restart begins after the rehearsal's end\n");
  EXPECT_THAT(ran.out, StartsWith("cellar: 1d rehearsed on a model of its tubs, seed 1\n"));
  EXPECT_THAT(ran.out, HasSubstr("\ntub-1, its own air, batch B-07, profile button\n\n"
                                 "fruiting, day 1 to 1 (1d)\n"));
  EXPECT_THAT(ran.out, HasSubstr("\njars, in closet, batch G-03, profile button\n"));
  EXPECT_THAT(ran.out, ContainsRegex("\n  humidity        85..90 % +[0-9.]+ % +[0-9.]+ %"));
  EXPECT_THAT(ran.out, ContainsRegex("\n  alerts    [0-9]+: .*sensor_air"));
  EXPECT_THAT(ran.out, HasSubstr("  - tank_empty of tub-1/mister, day 1 06:00 for 4h\n"));
  EXPECT_THAT(ran.out, HasSubstr("The room's file tells 1d; then it begins again."));
  EXPECT_THAT(ran.out, Not(HasSubstr("\x1b")));
}

TEST(RehearseProgram, PlaysTheDemonstrationTwiceBesideItselfAndTellsItAsJson) {
  parts::TempFolder folder;
  copy_demo(folder.path());
  const parts::Ran ran = rehearse(
      {folder.path().string(), "--days", "1", "--seed", "7", "--against", "hysteresis", "--json"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  const json told = json::parse(ran.out);
  EXPECT_EQ(told.at("seed"), 7);
  EXPECT_EQ(told.at("length_s"), 86400.0);
  EXPECT_TRUE(told.at("broken").empty());
  const json& air = told.at("airs").at(0);
  EXPECT_EQ(air.at("control"), "portions");
  EXPECT_EQ(told.at("beside").at(0).at("control"), "hysteresis");
  const json& phase = air.at("tubs").at(0).at("phases").at(0);
  EXPECT_EQ(phase.at("phase"), "pinning");
  EXPECT_EQ(phase.at("to_s"), 86400.0);
  const json& humidity = phase.at("quantities").at(0);
  EXPECT_EQ(humidity.at("quantity"), "humidity");
  EXPECT_EQ(humidity.at("keep"), json::parse("[85.0, 90.0]"));
  EXPECT_GT(humidity.at("in_band_true_pct"), 80.0);
  EXPECT_LE(humidity.at("in_band_true_pct"), 100.0);
  EXPECT_GT(phase.at("actuators").at(0).at("water_g"), 0.0);
  EXPECT_TRUE(phase.at("actuators").at(0).at("starts").is_number_integer());
}

std::size_t count_of(const std::string& text, const std::string& what) {
  std::size_t count = 0;
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += what.size()) {
    ++count;
  }
  return count;
}

TEST(RehearseProgram, WritesAReportThatNeedsNothingElse) {
  parts::TempFolder folder;
  copy_demo(folder.path());
  const std::string faults =
      written(folder, "f.yaml", "faults: [{fault: tank_empty, at: 6h, for: 1h}]\n");
  const std::string page = (folder.path() / "out.html").string();
  const parts::Ran ran = rehearse({folder.path().string(), "--days", "1", "--faults", faults,
                                   "--report", page, "--against", "hysteresis"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  const std::string html = parts::read_file(page);
  EXPECT_FALSE(std::filesystem::exists(page + ".part"));
  EXPECT_THAT(html, StartsWith("<!DOCTYPE html>"));
  EXPECT_LT(html.size(), 400u * 1024);
  for (const char* outside : {"<link", " src=", "@import", "url(http", "url(\"http", "fetch("}) {
    EXPECT_EQ(count_of(html, outside), 0u) << outside;
  }
  EXPECT_EQ(count_of(html, "<script"), count_of(html, "</script>"));
  EXPECT_EQ(count_of(html, "{{"), 0u);
  EXPECT_THAT(html, HasSubstr("Redistributions in binary form must reproduce"));
  EXPECT_THAT(html, HasSubstr("<li>tank_empty of crate-1/mister, day 1 06:00 for 1h</li>"));
  EXPECT_THAT(html, HasSubstr("pinning, day 1 to 1 (1d)</h3>"));

  const std::string begin = "id=\"data\">";
  const std::size_t from = html.find(begin) + begin.size();
  const json data = json::parse(html.substr(from, html.find("</script>", from) - from));
  const json& air = data.at("airs").at(0);
  EXPECT_EQ(air.at("faults").at(0).at("from_s"), 21600);
  const json& humidity = air.at("strips").at(0);
  EXPECT_EQ(humidity.at("word"), "humidity");
  EXPECT_EQ(humidity.at("bands").at(0), json::parse("[0, true, 1700, 1800]"));  // 85..90 %, x 20
  for (const char* side : {"truth", "sensed", "beside"}) {
    EXPECT_EQ(humidity.at(side).at("least").size(), data.at("columns")) << side;
    EXPECT_LE(humidity.at(side).at("least").at(500), humidity.at(side).at("most").at(500));
  }
  EXPECT_EQ(air.at("actuators").at(0).at("id"), "mister");
}

TEST(RehearseProgram, SaysWhatAReportLacksBeforeItPlays) {
  const parts::Ran lacks =
      rehearse({kSample, "--report", "/nowhere/out.html", "--charts", "/nowhere"});
  EXPECT_EQ(lacks.status, 1);
  EXPECT_EQ(lacks.out, "");
  EXPECT_THAT(lacks.err, AllOf(HasSubstr("/nowhere/d3-array/dist/d3-array.min.js: there is no such "
                                         "file"),
                               HasSubstr("node-d3-scale"), HasSubstr("--charts")));
  parts::TempFolder folder;
  copy_demo(folder.path());
  const parts::Ran nowhere =
      rehearse({folder.path().string(), "--days", "1", "--report", "/nowhere/out.html"});
  EXPECT_EQ(nowhere.status, 1);
  EXPECT_THAT(nowhere.err, HasSubstr("/nowhere/out.html cannot be written"));
}

TEST(RehearseProgram, SaysWhatIsWrongWithItsFilesByLine) {
  parts::TempFolder folder;
  const std::string faults = written(folder, "f.yaml",
                                     "faults:\n"
                                     "  - {fault: tank_emty, tub: tub-1, at: 6h, for: 4h}\n"
                                     "  - {fault: fan_dead, tub: nowhere, at: 6h, for: 4h}\n");
  const parts::Ran bad = rehearse({kSample, "--days", "1", "--faults", faults});
  EXPECT_EQ(bad.status, 1);
  EXPECT_EQ(bad.out, "");
  EXPECT_THAT(bad.err, AllOf(HasSubstr(faults + ":2:13: 'tank_emty' is not allowed"),
                             HasSubstr(faults + ":3:28: 'nowhere' is no tub and no chamber")));
  const std::string room = written(folder, "r.csv", "time,temperature_c\n0h,15\n6h,warm\n");
  const parts::Ran warm = rehearse({kSample, "--days", "1", "--room", room});
  EXPECT_EQ(warm.status, 1);
  EXPECT_THAT(warm.err, HasSubstr(room + ":3:4: 'warm' is no plain number for temperature_c"));
  const parts::Ran none = rehearse({kSample, "--days", "1", "--room", "/nowhere.csv"});
  EXPECT_EQ(none.status, 1);
  EXPECT_THAT(none.err, HasSubstr("/nowhere.csv: there is no such file"));
}

TEST(RehearseProgram, PlaysNoFolderThatIsNotWhole) {
  parts::TempFolder folder;
  copy_demo(folder.path());
  std::ofstream(folder.path() / "tubs/crate-1.yaml", std::ios::app) << "nonsense: 1\n";
  const parts::Ran broken = rehearse({folder.path().string(), "--days", "1"});
  EXPECT_EQ(broken.status, 1);
  EXPECT_THAT(broken.err, AllOf(HasSubstr("cannot be rehearsed before it is whole"),
                                HasSubstr("tubs/crate-1.yaml:"), HasSubstr("'nonsense'")));
}

TEST(RehearseProgram, TellsWrongWords) {
  EXPECT_EQ(rehearse({"--days", "0"}).status, 2);
  EXPECT_EQ(rehearse({"--days", "401"}).status, 2);
  EXPECT_EQ(rehearse({"--against", "luck"}).status, 2);
  EXPECT_EQ(rehearse({"--seed", "-1"}).status, 2);
  const parts::Ran from = rehearse({kSample, "--days", "1", "--from", "harvest"});
  EXPECT_EQ(from.status, 1);
  EXPECT_THAT(from.err, HasSubstr("no tub's profile has a phase 'harvest' to begin with"));
  EXPECT_THAT(rehearse({"--help"}).out, HasSubstr("Example:\n  tubwarden rehearse"));
}

}  // namespace
}  // namespace cli_test
