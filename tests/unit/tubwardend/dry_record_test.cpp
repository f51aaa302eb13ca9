// A dry run's record: the real one is read, locked, and left as it is.
#include "programs/tubwardend/dry_record.hpp"

#include <gmock/gmock.h>

#include "parts/parts.hpp"
#include "shell/record/sqlite_record.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;

Result<std::unique_ptr<SqliteRecord>> open(const fs::path& folder) {
  return SqliteRecord::open({folder.string(), "boot", {}}, [](auto) {});
}

/// A record that knows one tub's phase.
void make_record(const fs::path& folder) {
  auto record = open(folder);
  ASSERT_TRUE(record.ok());
  PhaseTransition change;
  change.tub = "tub-1";
  change.batch = "B-07";
  change.to = "fruiting";
  (*record)->append({{Stamp{}, "mara", BatchOpened{"B-07", "button", "text"}},
                     {Stamp{}, "mara", Placed{"tub-1", "tub-1", "B-07"}},
                     {Stamp{}, "mara", change}},
                    [](auto) {});
  (*record)->close();
}

std::string bytes(const fs::path& file) { return parts::read_file(file); }

TEST(DryRecord, BeginsWithACopyAndThrowsItAway) {
  const parts::TempFolder folder;
  const fs::path real = folder.path() / "record";
  make_record(real);
  const std::string before = bytes(real / "record.db");
  fs::path copy;
  {
    auto dry = DryRecord::begin(real);
    ASSERT_TRUE(dry.ok());
    copy = (*dry)->folder();
    ASSERT_NE(copy, real);
    {
      auto record = open(copy);
      ASSERT_TRUE(record.ok());
      const auto tubs = (*record)->tubs();
      ASSERT_TRUE(tubs.ok());
      ASSERT_EQ(tubs->size(), 1u);
      EXPECT_EQ(tubs->at(0).phase, "fruiting");
      PhaseTransition change;
      change.tub = "tub-1";
      change.batch = "B-07";
      change.from = "fruiting";
      change.to = "empty";
      (*record)->append({{Stamp{}, "mara", change}}, [](auto) {});
      (*record)->close();
    }
    EXPECT_FALSE(open(real).ok()) << "a daemon does not start beside a dry run";
  }
  EXPECT_FALSE(fs::exists(copy));
  EXPECT_EQ(bytes(real / "record.db"), before) << "the real one is untouched";
  auto after = open(real);
  ASSERT_TRUE(after.ok()) << "the lock is given back";
  EXPECT_EQ((*after)->tubs()->at(0).phase, "fruiting");
}

TEST(DryRecord, DoesNotRunBesideADaemon) {
  const parts::TempFolder folder;
  const fs::path real = folder.path() / "record";
  auto record = open(real);
  ASSERT_TRUE(record.ok());
  const auto dry = DryRecord::begin(real);
  ASSERT_FALSE(dry.ok());
  EXPECT_EQ(dry.error().code, ErrorCode::refused);
  EXPECT_THAT(dry.error().text, HasSubstr("stop it first"));
}

TEST(DryRecord, WhereThereIsNoneNothingIsMade) {
  const parts::TempFolder folder;
  auto dry = DryRecord::begin(folder.path() / "none");
  ASSERT_TRUE(dry.ok());
  EXPECT_TRUE(fs::is_directory((*dry)->folder()));
  EXPECT_TRUE(fs::is_empty((*dry)->folder()));
  EXPECT_FALSE(fs::exists(folder.path() / "none"));
}

}  // namespace
}  // namespace tubwarden
