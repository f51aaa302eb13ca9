// A backup of a record that is written to, and its way back: what is in it, what is refused, and
// that nothing of what was there is lost.
#include "shell/record/backup/backup.hpp"

#include <gmock/gmock.h>
#include <sys/stat.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "record_fixture.hpp"

namespace {

using namespace tubwarden;
namespace fs = std::filesystem;
using ::testing::HasSubstr;

// 2026-11-26T03:15:00Z by `date -u -d @1795662900`.
constexpr WallTime kMade{seconds(1'795'662'900)};

struct BackupTest : RecordTest {
  parts::TempFolder outside;

  Result<BackupMade> backup(const fs::path& target) {
    return make_backup({folder.path(), target, "cellar", kMade}, {});
  }
  fs::path must_backup() {
    const auto made = backup(outside.path() / "b.tar");
    if (!made.ok()) throw std::runtime_error(made.error().text);
    return made->file;
  }
  Result<Restored> restore(const fs::path& file, const fs::path& into) {
    return restore_backup({file, into, kMade + minutes(5)});
  }
  /// Files of a folder, hidden ones as well, without their order.
  static std::set<std::string> names_in(const fs::path& where) {
    std::set<std::string> names;
    for (const auto& entry : fs::directory_iterator(where)) {
      names.insert(entry.path().filename().string());
    }
    return names;
  }
};

TEST_F(BackupTest, HoldsEntriesAndReadingsAndAnyTarOpensIt) {
  open_batch();
  record->reading({"tub-1", "air", Quantity::humidity, 87.5, at(1).wall, true, at(1).boot});
  std::optional<Outcome> synced;
  record->sync([&](Outcome done) { synced = done; });
  ASSERT_TRUE(loop.run_until([&] { return synced.has_value(); }));
  ASSERT_TRUE(synced->ok());
  const auto made = backup(outside.path());
  ASSERT_TRUE(made.ok()) << made.error().text;
  EXPECT_EQ(made->file, outside.path() / "cellar-2026-11-26T03-15-00Z.tar");
  EXPECT_EQ(made->manifest.entries, 3U);
  EXPECT_EQ(made->manifest.newest_entry, at(0).wall);
  EXPECT_EQ(made->bytes, fs::file_size(made->file));
  EXPECT_EQ(names_in(outside.path()).size(), 1U) << "nothing else is left beside it";

  const parts::Ran tar =
      parts::run({"tar", "-xf", made->file.string(), "-C", outside.path().string()});
  ASSERT_EQ(tar.status, 0) << tar.err;
  const auto manifest = nlohmann::json::parse(parts::read_file(outside.path() / "manifest.json"));
  EXPECT_EQ(manifest.at("site"), "cellar");
  EXPECT_EQ(manifest.at("made_at"), "2026-11-26T03:15:00.000Z");
  ASSERT_EQ(manifest.at("files").size(), 2U);
  for (const auto& file : manifest.at("files")) {
    const std::string path = (outside.path() / file.at("name").get<std::string>()).string();
    // sha256sum of coreutils: an implementation that is not ours.
    EXPECT_EQ(parts::run({"sha256sum", path}).out.substr(0, 64), file.at("sha256"));
    EXPECT_EQ(fs::file_size(path), file.at("size_bytes"));
    EXPECT_EQ(parts::run({"sqlite3", path, "pragma integrity_check"}).out, "ok\n");
    EXPECT_EQ(parts::run({"sqlite3", path, "pragma journal_mode"}).out, "delete\n")
        << "one file, without a write-ahead log beside it";
  }
  const std::string copy = (outside.path() / "readings.db").string();
  EXPECT_EQ(parts::run({"sqlite3", copy, "select hundredths from tail"}).out, "8750\n");
}

TEST_F(BackupTest, IsOfTheMomentItWasAskedAtAndStopsNoWriter) {
  open_batch();
  const fs::path file = must_backup();
  append({{at(5), "maria", Act{"note", "tub-1", "tub-1", "B-01", "after the backup"}}});
  EXPECT_EQ(timeline().size(), 4U);
  const fs::path fresh = outside.path() / "fresh";
  ASSERT_TRUE(restore(file, fresh).ok());
  EXPECT_EQ(
      parts::run({"sqlite3", (fresh / "record.db").string(), "select count(*) from entry"}).out,
      "3\n");
}

TEST_F(BackupTest, OverwritesNothingAndNamesWhatCannotBeWritten) {
  outside.write("b.tar", "mine");
  const auto made = backup(outside.path() / "b.tar");
  ASSERT_FALSE(made.ok());
  EXPECT_THAT(made.error().text, HasSubstr("is there already"));
  EXPECT_EQ(parts::read_file(outside.path() / "b.tar"), "mine");
  EXPECT_EQ(names_in(outside.path()), std::set<std::string>{"b.tar"});
  fs::create_symlink("nowhere", outside.path() / "link.tar");
  EXPECT_FALSE(backup(outside.path() / "link.tar").ok()) << "nor what a link stands for";
  const auto nowhere = backup("/nonexistent/b.tar");
  ASSERT_FALSE(nowhere.ok());
  EXPECT_THAT(nowhere.error().text, HasSubstr("cannot write in /nonexistent"));
  const auto none = make_backup({outside.path(), outside.path() / "c.tar", "cellar", kMade}, {});
  ASSERT_FALSE(none.ok());
  EXPECT_EQ(none.error().code, ErrorCode::not_found);
}

TEST_F(BackupTest, ADamagedRecordIsNotCalledABackup) {
  open_batch();
  for (int i = 0; i < 200; ++i) {
    append({{at(i), "maria", Act{"note", "tub-1", "tub-1", "B-01", std::string(200, 'x')}}});
  }
  record.reset();
  {
    std::fstream file(folder.path() / "record.db", std::ios::in | std::ios::out);
    file.seekp(-6000, std::ios::end);
    file << std::string(4096, '\xAA');
  }
  const auto made = backup(outside.path() / "b.tar");
  ASSERT_FALSE(made.ok());
  EXPECT_THAT(made.error().text, HasSubstr("damaged"));
  EXPECT_TRUE(names_in(outside.path()).empty());
}

TEST_F(BackupTest, RestoringKeepsAsideWhatWasThere) {
  open_batch();
  const fs::path file = must_backup();
  append({{at(5), "maria", Act{"note", "tub-1", "tub-1", "B-01", "since then"}}});
  const auto refused = restore(file, folder.path());
  ASSERT_FALSE(refused.ok()) << "the record is open";
  EXPECT_THAT(refused.error().text, HasSubstr("systemctl stop tubwarden"));
  EXPECT_EQ(timeline().size(), 4U);

  record.reset();
  const auto back = restore(file, folder.path());
  ASSERT_TRUE(back.ok()) << back.error().text;
  EXPECT_EQ(back->aside, folder.path() / "before-restore-2026-11-26T03-20-00Z");
  EXPECT_EQ(back->manifest.site, "cellar");
  EXPECT_EQ(
      parts::run({"sqlite3", (back->aside / "record.db").string(), "select count(*) from entry"})
          .out,
      "4\n");
  EXPECT_EQ(names_in(folder.path()),
            (std::set<std::string>{"record.db", "readings.db", "lock",
                                   "before-restore-2026-11-26T03-20-00Z"}));
  const auto again = restore(file, folder.path());
  ASSERT_TRUE(again.ok());
  EXPECT_EQ(again->aside, folder.path() / "before-restore-2026-11-26T03-20-00Z-2");
  record = open();
  EXPECT_EQ(timeline().size(), 3U);
  EXPECT_EQ(tub().phase, "colonization");
}

TEST_F(BackupTest, WhatIsDamagedIsRefusedAndTouchesNothing) {
  open_batch();
  const fs::path file = must_backup();
  const std::string whole = parts::read_file(file);
  record.reset();
  const auto before = names_in(folder.path());
  const auto refused = [&](const std::string& content) {
    outside.write("bad.tar", content);
    const auto back = restore(outside.path() / "bad.tar", folder.path());
    EXPECT_EQ(names_in(folder.path()), before);
    return back.ok() ? "restored" : back.error().text;
  };
  const std::size_t page = whole.find("SQLite format 3");
  ASSERT_NE(page, std::string::npos);
  std::string flipped = whole;
  flipped[page + 5000] = static_cast<char>(flipped[page + 5000] ^ 1);
  EXPECT_THAT(refused(flipped), HasSubstr("checksum of record.db"));
  EXPECT_THAT(refused(whole.substr(0, whole.size() / 2)), HasSubstr("cut off"));
  EXPECT_THAT(refused(""), HasSubstr("cut off"));
  EXPECT_THAT(refused(std::string(2048, 'x')), HasSubstr("no backup"));
  std::string newer = whole;
  const std::size_t form = newer.find("\"form\": 1");
  newer[form + 8] = '9';
  EXPECT_THAT(refused(newer), HasSubstr("Install the newer one"));
  std::string other = whole;
  other.replace(other.find("readings.db"), 11, "../../x.txt");
  EXPECT_THAT(refused(other), HasSubstr("names '../../x.txt'"));
  record = open();
  EXPECT_EQ(timeline().size(), 3U);
}

TEST(BackupVersions, ABackupOfEachOlderVersionComesBackAsTheNewest) {
  for (int version = 1; version <= 5; ++version) {
    const parts::TempFolder old, target;
    fs::copy(fs::path(TUBWARDEN_SOURCE_DIR) / "tests/data" /
                 ("record-v" + std::to_string(version) + ".db"),
             old.path() / "record.db");
    const auto made = make_backup({old.path(), target.path(), "cellar", kMade}, {});
    ASSERT_TRUE(made.ok()) << made.error().text;
    ASSERT_EQ(made->manifest.files.size(), 1U);
    EXPECT_EQ(made->manifest.files[0].version, version);
    const auto back = restore_backup({made->file, target.path() / "record", kMade});
    ASSERT_TRUE(back.ok()) << back.error().text;
    EXPECT_TRUE(back->aside.empty());
    LoopOfOne loop;
    const auto record =
        SqliteRecord::open({(target.path() / "record").string(), "boot-a"}, loop.post());
    ASSERT_TRUE(record.ok()) << record.error().text;
    const auto tubs = (*record)->tubs();
    ASSERT_EQ(tubs->size(), 1U) << version;
    EXPECT_EQ(tubs->front().batch, "B-01");
    EXPECT_EQ(tubs->front().phase, "fruiting");
  }
}

}  // namespace
