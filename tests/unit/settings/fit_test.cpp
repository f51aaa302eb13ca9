// The fit check in full sentences, a case each from fit_cases/*.txt: a whole folder is changed, and
// every line of its tub that does not fit is compared in full, in order; lines that fit are looked
// for where a case names them.
//   # name   of TUB (tub-1)   in FILE   - what stands there   + what takes its place
//   > mark | phases | text
// The first case of all is the tub that fits; every other begins with its changes.
#include "settings/fit.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <ostream>
#include <sstream>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::Contains;
using testing::ElementsAreArray;
using testing::Not;

struct Change {
  std::string file, what, with;
};

struct FitCase {
  std::string name;
  std::string tub = "tub-1";
  std::vector<Change> changes;
  std::vector<std::string> wrong, fitting;
};

void PrintTo(const FitCase& one, std::ostream* out) { *out << one.name; }

void take_line(std::vector<FitCase>& cases, std::string& file, const std::string& line) {
  if (line.size() < 2) return;
  const std::string rest = line.substr(2);
  if (line[0] == '#') {
    cases.push_back({rest, "tub-1", {}, {}, {}});
    return;
  }
  FitCase& one = cases.back();
  if (line.starts_with("of ")) {
    one.tub = line.substr(3);
  } else if (line.starts_with("in ")) {
    file = line.substr(3);
  } else if (line[0] == '-') {
    one.changes.push_back({file, rest, ""});
  } else if (line[0] == '+') {
    one.changes.back().with = rest;
  } else {
    (rest.starts_with("fits |") ? one.fitting : one.wrong).push_back(rest);
  }
}

std::vector<FitCase> cases() {
  std::vector<FitCase> all;
  const std::filesystem::path folder =
      std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "tests/unit/settings/fit_cases";
  std::vector<std::filesystem::path> files;
  for (const auto& file : std::filesystem::directory_iterator(folder)) files.push_back(file.path());
  std::sort(files.begin(), files.end());
  for (const auto& file : files) {
    std::istringstream lines(parts::read_file(file));
    std::string changed;
    for (std::string line; std::getline(lines, line);) take_line(all, changed, line);
  }
  return all;
}

std::string told(const FitLine& line) {
  return fmt::format("{} | {} | {}", word_of(line.mark), fmt::join(line.phases, ", "), line.text);
}

void apply(bench::Folder& folder, const Change& change) {
  folder.spoil(change.file, change.what, change.with);
}

class FitCases : public testing::TestWithParam<FitCase> {};

TEST_P(FitCases, SayTheirSentences) {
  const FitCase& one = GetParam();
  bench::Folder folder;
  const FitCase fitting_tub = cases().front();
  for (const Change& change : fitting_tub.changes) apply(folder, change);
  if (one.name != fitting_tub.name) {
    for (const Change& change : one.changes) apply(folder, change);
  }
  const Loaded loaded = folder.load();
  ASSERT_FALSE(loaded.has_errors()) << check_report(loaded);
  std::vector<std::string> wrong, fitting;
  for (const FitLine& line : fit_of(loaded.grow)) {
    if (line.tub != one.tub) continue;
    (line.mark == FitMark::fits ? fitting : wrong).push_back(told(line));
  }
  EXPECT_THAT(wrong, ElementsAreArray(one.wrong));
  for (const std::string& line : one.fitting) EXPECT_THAT(fitting, Contains(line));
}

INSTANTIATE_TEST_SUITE_P(Shipped, FitCases, testing::ValuesIn(cases()),
                         [](const auto& tested) { return tested.param.name; });

TEST(FitCasesShipped, AreTenAndMoreAndTheFirstFits) {
  EXPECT_GE(cases().size(), 10u);
  const FitCase fitting_tub = cases().front();
  EXPECT_EQ(fitting_tub.name, "TubThatFits");
  EXPECT_THAT(fitting_tub.wrong, testing::IsEmpty());
  EXPECT_GE(fitting_tub.fitting.size(), 10u);
}

std::vector<std::string> marked(const GrowPlan& grow, FitMark mark) {
  std::vector<std::string> lines;
  for (const FitLine& line : fit_of(grow)) {
    if (line.mark == mark) lines.push_back(line.tub + ": " + told(line));
  }
  return lines;
}

TEST(FitOfWhatIsShipped, HasNothingThatCannotWork) {
  const std::filesystem::path config = std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config";
  const GrowPlan grow = load_folder(config, bench::catalogue()).grow;
  EXPECT_THAT(marked(grow, FitMark::cannot), testing::IsEmpty());
  EXPECT_GE(marked(grow, FitMark::fits).size(), 15u);
}

TEST(FitOfWhatIsShipped, DemonstrationFitsAsAWhole) {
  const std::filesystem::path demo = std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "config/demo";
  parts::TempFolder folder;
  for (const char* name : {"profiles/crate.yaml", "tubs/crate-1.yaml"}) {
    folder.write(name, parts::read_file(demo / name));
  }
  folder.write("tubwarden.yaml",
               "site: brickyard\nbroker: {url: \"mqtt://127.0.0.1:1883\"}\n"
               "room: {temperature: 17 C, humidity: 55 %}\n");
  const Loaded loaded = load_folder(folder.path(), bench::catalogue());
  ASSERT_FALSE(loaded.has_errors()) << check_report(loaded);
  EXPECT_EQ(fit_of(loaded.grow).size(), marked(loaded.grow, FitMark::fits).size());
  EXPECT_EQ(fit_of(loaded.grow).size(), 4u);
}

TEST(FitOf, AShelfHasGrainAndATubHasTheRest) {
  bench::Folder folder;
  folder.write("tubs/tub-2.yaml",
               "shelf: tub-2\nbatch: B-08\nprofile: button\nphase: grain\nstands_in: closet\n");
  const auto lines = fit_of(folder.load().grow);
  ASSERT_FALSE(lines.empty());
  for (const FitLine& line : lines) {
    if (line.tub == "tub-2") {
      EXPECT_THAT(line.phases, testing::ElementsAre("grain"));
    } else {
      EXPECT_THAT(line.phases, Not(Contains("grain")));
    }
  }
}

TEST(FitOf, WhatStandsInAnAirCountsAndOnlyItsLeaderTells) {
  bench::Folder folder;
  folder.spoil("tubs/tub-2.yaml", "stands_in: closet", "stands_in: closet\nsubstrate: 5 kg");
  folder.write("tubs/tub-3.yaml",
               "tub: tub-3\nbatch: B-09\nprofile: button\nphase: colonization\nsubstrate: 10 kg\n"
               "substrate_ceiling: 20 C\nstands_in: closet\n");
  std::vector<std::string> of_third;
  bool summed = false;
  for (const FitLine& line : fit_of(folder.load().grow)) {
    if (line.tub == "tub-3") of_third.emplace_back(name_of(line.about));
    summed = summed || line.text.find("15 kg of substrate under a full flush of 1.5 kg") == 0;
  }
  EXPECT_TRUE(summed);
  EXPECT_THAT(of_third, testing::ElementsAre("ceiling"));
}

TEST(FitOf, AnEmptyPlanSaysNothing) {
  EXPECT_TRUE(fit_of({}).empty());
  EXPECT_EQ(fit_report({}), "");
}

TEST(FitReport, HasASectionATubWrappedUnderItsMark) {
  const FitLine line = {"tub-1",
                        FitAbout::co2,
                        FitMark::cannot,
                        {"fruiting", "pinning"},
                        "This fan is far too weak for what stands in the tub, whatever one does."};
  const FitLine other = {"tub-2", FitAbout::floor, FitMark::fits, {"pinning"}, "It does."};
  EXPECT_EQ(fit_report({line, other}),
            "fit of tub-1\n"
            "  cannot work  fruiting (likewise pinning): This fan is far too weak for what\n"
            "               stands in the tub, whatever one does.\n"
            "\n"
            "fit of tub-2\n"
            "  fits         pinning: It does.\n");
}

}  // namespace
}  // namespace tubwarden
