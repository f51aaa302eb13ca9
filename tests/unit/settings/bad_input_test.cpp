// Bad input, a case each from bad_input/*.txt: one thing is spoilt in a whole folder, and every
// finding it gives is compared in full, in order: file, line, column and text.
//   # name   in FILE   - what stands there   + what takes its place   > a finding as it is told
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <algorithm>
#include <ostream>
#include <sstream>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::ElementsAreArray;
using testing::IsEmpty;

struct BadCase {
  std::string name, file, what, with;
  std::vector<std::string> told;
};

void PrintTo(const BadCase& bad, std::ostream* out) { *out << bad.name << " in " << bad.file; }

void take_line(std::vector<BadCase>& cases, const std::string& line) {
  if (line.size() < 2) return;
  if (line[0] == '#') {
    cases.push_back({line.substr(2), "", "", "", {}});
    return;
  }
  BadCase& bad = cases.back();
  const std::string rest = line.substr(2);
  if (line.starts_with("in ")) {
    bad.file = line.substr(3);
  } else if (line[0] == '-') {
    bad.what += (bad.what.empty() ? "" : "\n") + rest;
  } else if (line[0] == '+') {
    bad.with += (bad.with.empty() ? "" : "\n") + rest;
  } else {
    bad.told.push_back(rest);
  }
}

std::vector<BadCase> cases() {
  std::vector<BadCase> all;
  const std::filesystem::path folder =
      std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "tests/unit/settings/bad_input";
  std::vector<std::filesystem::path> files;
  for (const auto& file : std::filesystem::directory_iterator(folder)) files.push_back(file.path());
  std::sort(files.begin(), files.end());
  for (const auto& file : files) {
    std::istringstream lines(parts::read_file(file));
    for (std::string line; std::getline(lines, line);) take_line(all, line);
  }
  for (BadCase& bad : all) {
    if (bad.with.empty()) bad.what += "\n";  // whole lines are taken out
  }
  return all;
}

class BadInput : public testing::TestWithParam<BadCase> {};

TEST_P(BadInput, IsToldWithItsPlaceAndWhatIsAllowed) {
  bench::Folder folder;
  folder.spoil(GetParam().file, GetParam().what, GetParam().with);
  ASSERT_FALSE(GetParam().told.empty());
  EXPECT_THAT(bench::told(folder.load()), ElementsAreArray(GetParam().told));
}

INSTANTIATE_TEST_SUITE_P(Case, BadInput, testing::ValuesIn(cases()),
                         [](const auto& bad) { return bad.param.name; });

TEST(BadInputCases, AreManyAndSpoilAFolderThatIsWhole) {
  EXPECT_GE(cases().size(), 100u);
  EXPECT_THAT(bench::told(bench::Folder().load()), IsEmpty());
}

TEST(BadInputBytes, AreToldToo) {
  bench::Folder tab;
  tab.spoil("chambers/closet.yaml", "  - id: bed", "\t- id: bed");
  EXPECT_THAT(bench::told(tab.load()),
              ElementsAre("chambers/closet.yaml:10:2: this is not well-formed YAML (illegal block "
                          "entry; a tab cannot indent, write spaces); the rest of the file was not "
                          "read"));
  for (const char* bytes : {"B\001", "B\377", "B\300\257", "B\355\240\200", "B\364\220\200\200"}) {
    bench::Folder folder;  // control, no UTF-8, overlong, half a pair, beyond U+10FFFF
    folder.spoil("tubs/tub-2.yaml", "B-08", bytes);
    EXPECT_THAT(bench::told(folder.load()),
                ElementsAre("tubs/tub-2.yaml:2:9: this byte is no text; save the file as UTF-8"));
  }
  bench::Folder text;
  text.spoil("tubs/tub-1.yaml", "says: offline",
             "says: \"caf\303\251 \342\202\254 \360\237\215\204\"");
  EXPECT_THAT(bench::told(text.load()), IsEmpty());
  EXPECT_EQ(text.load().grow.chamber("tub-1")->sensors[0].gone->says,
            "caf\303\251 \342\202\254 \360\237\215\204");
}

TEST(BadInputOfSeveral, AllErrorsOfAWellFormedFileComeInOneGoInOrder) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "substrate: 5 kg", "substrate: 5");
  folder.spoil("tubs/tub-1.yaml", "topic: cellar/tub-1/bed", "topic: cellar/#");
  folder.spoil("tubs/tub-1.yaml", "rate: 15 W", "rte: 15 W");
  folder.spoil("tubs/tub-1.yaml", "{at: /at, form: unix_ms}", "{at: /at, at: /x, form: sundial}");
  folder.spoil("tubs/tub-1.yaml", "lease: 9s", "lease: 9s\n      lease: 10s");
  const Loaded loaded = folder.load();
  std::vector<int> lines;
  for (const Finding& f : loaded.findings) lines.push_back(f.line);
  EXPECT_THAT(lines, ElementsAre(5, 15, 15, 19, 37, 40))
      << testing::PrintToString(bench::told(loaded));
}

TEST(BadInputOfSeveral, ManyFindingsOfOneFileAreCutOffAndCounted) {
  bench::Folder folder;
  std::string keys;
  for (int i = 0; i < 300; ++i) keys += "unknown" + std::to_string(i) + ": 1\n";
  folder.spoil("tubs/tub-2.yaml", "batch: B-08\n", "batch: B-08\n" + keys);
  const Loaded loaded = folder.load();
  ASSERT_EQ(loaded.findings.size(), 201u);
  EXPECT_EQ(loaded.findings.front().told(),
            "tubs/tub-2.yaml: 100 more findings here are not shown; mend these first");
}

TEST(BadInputOfSeveral, ATextIsQuotedOnOneLineAndCutOff) {
  bench::Folder folder;
  folder.spoil("tubs/tub-2.yaml", "batch: B-08",
               "batch: \"one\\ntwo " + std::string(80, 'x') + "\"");
  EXPECT_THAT(bench::told(folder.load()),
              ElementsAre("tubs/tub-2.yaml:2:8: 'one two " + std::string(52, 'x') +
                          "...' is no name; allowed: letters, digits, - and _, at most 40 of "
                          "them"));
}

TEST(BadInputOfFiles, AMissingOneAnEmptyOneAndALargeOneAreTold) {
  bench::Folder folder;
  std::filesystem::remove(folder.path() / "tubwarden.yaml");
  folder.write("tubs/a.yaml", "");
  folder.write("tubs/b.yaml", "# nothing yet\n");
  folder.write("tubs/c.yaml", "tub: c\n#" + std::string(1024 * 1024, 'x'));
  folder.write("tubs/d.yml", "tub: d\n");
  folder.write("tubs/.tub-1.yaml.swp", "\n");
  folder.write("tubs/tub-1.yaml~", "\n");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("tubs/a.yaml: the file is empty", "tubs/b.yaml: the file is empty",
                          "tubs/c.yaml: the file is larger than 1 MiB",
                          "tubs/d.yml: warning: not read; name it d.yaml",
                          "tubwarden.yaml: there is no such file"));
  EXPECT_FALSE(loaded.site);
  EXPECT_THAT(loaded.broken_tubs, ElementsAre("a", "b", "c"));
  EXPECT_EQ(loaded.grow.tubs.size(), 2u);
}

TEST(BadInputOfFiles, WhatIsNoPlainFileIsNotReadForEver) {
  bench::Folder folder;
  ASSERT_EQ(::mkfifo((folder.path() / "tubs/pipe.yaml").c_str(), 0600), 0);
  std::filesystem::create_directory(folder.path() / "tubs/folder.yaml");
  EXPECT_THAT(bench::told(folder.load()),
              ElementsAre("tubs/folder.yaml: is no plain file; put one in its place",
                          "tubs/pipe.yaml: is no plain file; put one in its place"));
}

TEST(BadInputOfFiles, AFolderThatIsNotThereIsTold) {
  EXPECT_THAT(bench::told(load_folder("/nowhere/at/all", {})),
              ElementsAre("/nowhere/at/all: there is no such folder; name the one with "
                          "tubwarden.yaml in it"));
}

}  // namespace
}  // namespace tubwarden
