// The option table as data: it agrees with itself, and docs/configuration.md is made from it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <set>

#include "parts/parts.hpp"
#include "settings/option_table.hpp"

namespace tubwarden {
namespace {

using testing::HasSubstr;

std::set<std::string_view> sections() {
  std::set<std::string_view> names;
  for (const OptionRow& row : option_table()) names.insert(row.section);
  return names;
}

TEST(OptionTable, FindsEachRowByItsSectionAndKeyAndHasItOnce) {
  std::set<std::pair<std::string_view, std::string_view>> seen;
  for (const OptionRow& row : option_table()) {
    EXPECT_TRUE(seen.insert({row.section, row.key}).second) << row.section << " " << row.key;
    EXPECT_EQ(row_of(row.section, row.key), &row) << row.section << " " << row.key;
  }
}

TEST(OptionTable, KeepsTheRowsOfASectionTogether) {
  std::size_t rows = 0;
  for (std::string_view section : sections()) rows += rows_of(section).size();
  EXPECT_EQ(rows, option_table().size());
  EXPECT_TRUE(rows_of("nothing").empty());
}

TEST(OptionTable, NamesItsSectionsAndReachesThemAll) {
  std::set<std::string_view> reached = {"site", "profile", "chamber", "tub", "faults"};
  for (const OptionRow& row : option_table()) {
    const bool section = row.type == OptionType::map || row.type == OptionType::list ||
                         row.type == OptionType::either || row.type == OptionType::name_or_map;
    if (!section || rows_of(row.words).empty()) continue;
    reached.insert(row.words);
  }
  EXPECT_EQ(reached, sections());
}

TEST(OptionTable, SaysEachRowInOneSentence) {
  for (const OptionRow& row : option_table()) {
    EXPECT_TRUE(row.help.ends_with('.')) << row.key;
    EXPECT_LE(row.help.size(), 200u) << row.key;
    if (row.type == OptionType::word) {
      EXPECT_GE(words_in(row.words).size(), 2u) << row.key;
    }
  }
}

/// A default that could not be written would be no default.
TEST(OptionTable, DefaultsAreAllowedValues) {
  std::size_t checked = 0;
  for (const OptionRow& row : option_table()) {
    if (row.required() || row.fallback.empty() || row.unit != UnitKind::duration) continue;
    const auto value = parse_duration(row.fallback);
    ASSERT_TRUE(value.ok()) << row.key;
    EXPECT_TRUE(row.limits.hold(seconds_of(*value))) << row.key;
    ++checked;
  }
  EXPECT_GE(checked, 6u);
}

TEST(OptionReference, HasEveryKeyAndLeavesNoneOfTheOthers) {
  const std::string text = option_reference_markdown();
  for (const OptionRow& row : option_table()) {
    EXPECT_THAT(text, HasSubstr("| `" + std::string(row.key) + "` |")) << row.section;
  }
  EXPECT_THAT(text, HasSubstr("| `lease` | duration, 3s to 1m | `15s` |"));
  EXPECT_THAT(text, HasSubstr("| `site` | name | **(required)** |"));
}

TEST(OptionReference, IsWhatTheDocumentSays) {
  const std::string path = std::string(TUBWARDEN_SOURCE_DIR) + "/docs/configuration.md";
  const std::string wanted = option_reference_markdown();
  if (std::getenv("TUBWARDEN_REMAKE_DOCS")) std::ofstream(path) << wanted;
  EXPECT_TRUE(parts::read_file(path) == wanted)
      << "docs/configuration.md is stale: run unit_settings with TUBWARDEN_REMAKE_DOCS=1";
}

}  // namespace
}  // namespace tubwarden
