// The kitchen's words, its page, and the logs it reads.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "core/kitchen/grain.hpp"
#include "parts/parts.hpp"
#include "programs/cli/kitchen.hpp"
#include "programs/cli/log_file.hpp"
#include "unit/cli/samples.hpp"

namespace tubwarden::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::StartsWith;

std::string wrong(const std::vector<std::string>& words) {
  const auto wanted = understand(words, Defaults{}).wanted;
  if (!std::holds_alternative<Told>(wanted)) return "";
  EXPECT_EQ(std::get<Told>(wanted).status, 2);
  return std::get<Told>(wanted).text;
}

std::string unread(const std::string& text, const std::string& column = "temperature_c",
                   const std::string& sensor = "") {
  const auto log = read_log(text, "run.csv", column, sensor);
  return log.ok() ? "" : log.error().text;
}

TEST(KitchenPage, ShowsWhatWentInWhatCameOutAndWhereItIsFrom) {
  const Sum sum = *grain_sum({2.0, 0.11, 0.52});
  const std::string page = sum_page(sum, cli_test::look_of(80));
  EXPECT_THAT(page, StartsWith("Water for grain\n"));
  EXPECT_THAT(page, HasSubstr("  water taken up                  1.708 kg\n"));
  EXPECT_THAT(page, HasSubstr("\nMind: Boiling grain"));
  EXPECT_THAT(page, HasSubstr("\nFormula: water = grain x"));
  EXPECT_THAT(page, HasSubstr("\nSource: definition"));
  EXPECT_THAT(sum_json(sum), HasSubstr("\"name\": \"water taken up\",\n      \"value\": 1.70833"));
}

TEST(KitchenWords, TakeAmountsWithTheirUnits) {
  const auto wanted =
      understand({"kitchen", "hold", "--gauge", "15psi", "--altitude", "3281ft"}, {}).wanted;
  ASSERT_TRUE(std::holds_alternative<KitchenSum>(wanted));
  EXPECT_NEAR(std::get<KitchenSum>(wanted).sum.found[1].value, 119.14, 0.01);
  EXPECT_THAT(wrong({"kitchen"}), HasSubstr("needs a command"));
  EXPECT_THAT(wrong({"kitchen", "grain"}), HasSubstr("--grain: is needed"));
  EXPECT_THAT(wrong({"kitchen", "grain", "--grain", "2"}), HasSubstr("has no unit"));
  EXPECT_THAT(wrong({"kitchen", "grain", "--grain", "2kg", "--moisture", "9%"}),
              HasSubstr("above the grain's own"));
  EXPECT_THAT(wrong({"kitchen", "hold", "--gauge", "15C"}), HasSubstr("15 psi, 1 bar"));
  EXPECT_THAT(wrong({"kitchen", "substrate", "sand=4kg"}), HasSubstr("allowed: wheat-straw"));
  EXPECT_THAT(wrong({"kitchen", "substrate", "hay"}), HasSubstr("wheat-straw=4kg"));
  EXPECT_THAT(wrong({"kitchen", "substrate", "hay=4"}), HasSubstr("has no unit"));
}

TEST(KitchenLog, ReadsOneColumnAndSkipsTheRest) {
  const auto log = read_log(
      "# run 12\r\n\r\ntime,sensor,temperature_c,other\r\n2026-11-26T10:00:00Z,core,20.5,x\r\n"
      "2026-11-26T10:00:30Z,wall,,x\r\n2026-11-26T10:01:00Z,core,21,x\r\n",
      "run.csv", "temperature_c", "");
  ASSERT_TRUE(log.ok()) << log.error().text;
  ASSERT_EQ(log->size(), 2U);
  EXPECT_EQ((*log)[1].at - (*log)[0].at, minutes(1));
  EXPECT_EQ((*log)[1].value, 21.0);
}

TEST(KitchenLog, NamesLineAndColumnOfWhatItCannotRead) {
  EXPECT_THAT(unread("time,t\n0s,20\n"), HasSubstr("run.csv:1:1: the head line names no column "
                                                   "'temperature_c'; there are: time, t"));
  EXPECT_THAT(unread("temperature_c\n20\n"), HasSubstr("no column 'time'"));
  EXPECT_THAT(unread("time,temperature_c\n0s,20\n1s,hot\n"),
              HasSubstr("run.csv:3:4: 'hot' is no plain number"));
  EXPECT_THAT(unread("time,temperature_c\n0s,20\n0s,21\n"),
              HasSubstr("run.csv:3:1: it is not later"));
  EXPECT_THAT(unread("time,temperature_c\n0s,20\n2026-11-26T10:00:00Z,21\n"),
              HasSubstr("do not stand in one file"));
  EXPECT_THAT(unread("time,temperature_c\nnoon,20\n"), HasSubstr("'noon' is no time"));
  EXPECT_THAT(unread("time,temperature_c\n0s\n"), HasSubstr("1 cells here, and 2"));
  EXPECT_THAT(unread("time,temperature_c\n0s,nan\n"), HasSubstr("no plain number"));
  EXPECT_THAT(unread(""), HasSubstr("no reading of temperature_c"));
  const std::string two = "time,sensor,temperature_c\n0s,a,20\n1s,b,21\n";
  EXPECT_THAT(unread(two), HasSubstr("readings of 'a' and of 'b'; say one with --sensor"));
  EXPECT_THAT(unread(two, "temperature_c", "b"), "");
  EXPECT_THAT(unread(two, "temperature_c", "c"), HasSubstr("by sensor 'c'"));
}

TEST(KitchenLog, ASumOverAFileNamesTheFile) {
  const parts::TempFolder folder;
  const std::string path = folder.path() / "run.csv";
  std::ofstream(path) << "time,temperature_c\n0s,121.1\n5m,121.1\n10m,121.1\n";
  KitchenLog wanted{KitchenLog::What::lethality, path, "temperature_c", "", 420.0, {}};
  const auto sum = kitchen_log(wanted);
  ASSERT_TRUE(sum.ok()) << sum.error().text;
  EXPECT_NEAR(sum->found[0].value, 10.0, 1e-9);
  std::ofstream(path) << "time,temperature_c\n0s,121.1\n6m,121.1\n";
  EXPECT_THAT(kitchen_log(wanted).error().text, StartsWith(path + ": 360 s without a reading"));
  wanted.file = path + ".none";
  EXPECT_THAT(kitchen_log(wanted).error().text, HasSubstr("No such file"));
}

}  // namespace
}  // namespace tubwarden::cli
