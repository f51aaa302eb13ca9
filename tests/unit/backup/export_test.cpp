// Every entry as CSV and JSON Lines: nothing is left out, times are RFC 3339, and what a comma or a
// quotation mark would break is quoted as RFC 4180 says.
#include "shell/record/backup/export.hpp"

#include <gmock/gmock.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "record_fixture.hpp"

namespace {

using namespace tubwarden;
using nlohmann::json;
using ::testing::HasSubstr;

constexpr WallTime kMade{seconds(1'795'662'900)};

struct ExportTest : RecordTest {
  parts::TempFolder outside;
  std::filesystem::path to = outside.path() / "entries";

  Result<Exported> exported() { return export_entries({folder.path(), to, "cellar", kMade}); }
  std::vector<json> lines(const std::string& table) const {
    std::vector<json> all;
    std::ifstream file(to / (table + ".jsonl"));
    for (std::string line; std::getline(file, line);) all.push_back(json::parse(line));
    return all;
  }
  std::string csv(const std::string& table) const {
    return parts::read_file(to / (table + ".csv"));
  }
};

TEST_F(ExportTest, TellsEachEntryWithItsTimeAndWhatItsKindAdds) {
  open_batch();
  append({{at(30), "maria", change("colonization", "fruiting")},
          {at(40), "maria", Watered{"tub-1", "tub-1", "B-01", 200.0}},
          {at(50), "maria",
           HandTaken{"tub-1", "tub-1", "B-01", HandKind::keep_at, "fan", kRest, minutes(30),
                     "kept"}}});
  const auto done = exported();
  ASSERT_TRUE(done.ok()) << done.error().text;
  const auto entries = lines("entries");
  ASSERT_EQ(entries.size(), 6U);
  EXPECT_EQ(entries[3].at("kind"), "phase");
  // 30,000,030 minutes after 1970 by `date -u -d @1800001800`.
  EXPECT_EQ(entries[3].at("at"), "2027-01-15T08:30:00.000Z");
  EXPECT_EQ(entries[3].at("at_is_known"), true);
  EXPECT_EQ(entries[3].at("corrects"), nullptr);
  EXPECT_EQ(lines("phase_change")[1].at("to_phase"), "fruiting");
  EXPECT_EQ(lines("watering")[0].at("volume_ml"), 200.0);
  EXPECT_EQ(lines("hand")[0].at("lasts_s"), 1800.0);
  EXPECT_EQ(lines("hand")[0].at("level_permille"), 0);
  EXPECT_EQ(lines("watering")[0].at("entry"), entries[4].at("id"));
  EXPECT_THAT(csv("watering"), ::testing::StartsWith("entry,volume_ml\r\n5,200.0\r\n"));
  const auto contents = json::parse(parts::read_file(to / "contents.json"));
  EXPECT_EQ(contents.at("tables")[0].at("rows"), 6);
  EXPECT_EQ(contents.at("made_at"), "2026-11-26T03:15:00.000Z");
}

TEST_F(ExportTest, QuotesWhatWouldBreakALine) {
  open_batch();
  const std::string words = "he said \"wet\", twice\nand left";
  append({{at(5), "maria", Act{"note", "tub-1", "tub-1", "B-01", words}}});
  append({{at(6), "maria", Act{"note", "tub-1", "tub-1", "B-01", "bytes \xFF of no text"}}});
  ASSERT_TRUE(exported().ok());
  EXPECT_THAT(csv("entries"), HasSubstr(",\"he said \"\"wet\"\", twice\nand left\","));
  EXPECT_EQ(lines("entries")[3].at("text"), words);
  EXPECT_EQ(lines("entries")[4].at("text"), "bytes \xEF\xBF\xBD of no text");
  // A reader that is not ours: Python's csv, which reads RFC 4180.
  const parts::Ran read = parts::run(
      {"python3", "-c",
       "import csv,sys; r=list(csv.DictReader(open(sys.argv[1],newline='',errors='replace'))); "
       "print(len(r)); sys.stdout.write(r[3]['text'])",
       (to / "entries.csv").string()});
  EXPECT_EQ(read.out, "5\n" + words) << read.err;
}

TEST_F(ExportTest, LeavesNoTableOfEntriesOutAndDocumentsEachField) {
  const auto done = exported();
  ASSERT_TRUE(done.ok()) << done.error().text;
  std::set<std::string> told;
  for (const ExportedTable& table : done->tables) told.insert(table.name);
  const std::string kinds =
      sqlite(
          "select m.name from sqlite_master m, pragma_table_info(m.name) c where m.type='table' "
          "and c.name='entry'")
          .out;
  std::istringstream names(kinds);
  for (std::string name; std::getline(names, name);) EXPECT_TRUE(told.count(name)) << name;
  const std::string docs =
      parts::read_file(std::filesystem::path(TUBWARDEN_SOURCE_DIR) / "docs/record.md");
  for (const ExportedTable& table : done->tables) {
    const std::size_t at = docs.find("\n#### `" + table.name + "`\n");
    ASSERT_NE(at, std::string::npos) << "docs/record.md, Export, lacks a part on " << table.name;
    const std::string part = docs.substr(at, docs.find("\n####", at + 1) - at);
    for (const std::string& field : table.fields) {
      EXPECT_THAT(part, HasSubstr("`" + field + "`")) << table.name;
    }
  }
}

TEST_F(ExportTest, OverwritesNothingAndLeavesNothingHalf) {
  std::filesystem::create_directory(to);
  const auto done = exported();
  ASSERT_FALSE(done.ok());
  EXPECT_THAT(done.error().text, HasSubstr("name a new folder"));
  to = outside.path() / "no" / "entries";
  EXPECT_FALSE(exported().ok());
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator(outside.path()), {}), 1);
}

}  // namespace
