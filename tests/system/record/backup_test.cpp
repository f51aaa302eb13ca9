// A backup made while entries and readings are written as fast as the disk takes them, and the
// writer is killed soon after: the copy is whole, and nothing that was answered before is missing.
#include "shell/record/backup/backup.hpp"

#include <gtest/gtest.h>
#include <signal.h>

#include <sstream>

#include "parts/parts.hpp"

namespace {

using namespace std::chrono_literals;
using namespace tubwarden;

/// The last reading that the writer has said; each fifth comes with two entries that are on disk.
long long last_said(const parts::Process& process) {
  const std::string out = process.out();
  const std::size_t end = out.rfind('\n');
  if (end == std::string::npos) return -1;
  const std::size_t before = out.rfind('\n', end == 0 ? 0 : end - 1);
  std::istringstream line(out.substr(before == std::string::npos ? 0 : before + 1));
  long long number = -1;
  line >> number;
  return number;
}

long long counted(const std::filesystem::path& db, const std::string& what) {
  const parts::Ran ran = parts::run({"sqlite3", db.string(), what});
  EXPECT_EQ(ran.status, 0) << ran.err;
  return std::stoll(ran.out);
}

TEST(BackupWhileWriting, IsWholeAndMissesNothingThatWasAnswered) {
  const parts::TempFolder folder, outside;
  parts::Process writer({std::string(TUBWARDEN_BIN_DIR) + "/../tests/record_writer",
                         folder.path().string(), "readings", "0", "50"});
  ASSERT_TRUE(parts::wait_until([&] { return last_said(writer) > 200; }, 30s)) << writer.err();
  for (int round = 0; round < 3; ++round) {
    const long long before = last_said(writer);
    const auto made = make_backup({folder.path(), outside.path() / (std::to_string(round) + ".tar"),
                                   "shed", WallTime(seconds(1'795'662'900 + round))},
                                  {});
    ASSERT_TRUE(made.ok()) << made.error().text;
    if (round == 2) writer.signal(SIGKILL);
    const auto into = outside.path() / std::to_string(round);
    const auto back = restore_backup({made->file, into, WallTime(seconds(1'795'663'000))});
    ASSERT_TRUE(back.ok()) << back.error().text;
    EXPECT_EQ(back->manifest.entries, made->manifest.entries);
    const long long entries = counted(into / "record.db", "select count(*) from entry");
    EXPECT_GE(entries, 2 * (before + 1) / 5) << "answered before the backup began";
    EXPECT_EQ(entries % 2, 0) << "two entries a transaction";
    EXPECT_EQ(counted(into / "record.db", "select max(id) from entry"), entries) << "without a gap";
    ASSERT_TRUE(round == 2 ||
                parts::wait_until([&] { return last_said(writer) > before + 50; }, 30s))
        << "the writer goes on: " << writer.err();
  }
  const long long kept = counted(outside.path() / "2/readings.db",
                                 "select (select coalesce(sum(count),0) from chunk) + (select "
                                 "count(*) from tail)");
  EXPECT_GT(kept, 0);
  ASSERT_TRUE(writer.wait(5s));
}

}  // namespace
