// Killed at any moment, or out of disk: nothing that was answered is lost, and no half transaction
// stays.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/mount.h>

#include <cstring>
#include <random>
#include <sstream>

#include "parts/parts.hpp"

namespace {

using namespace std::chrono_literals;

std::vector<long long> answered(const std::string& out) {
  std::vector<long long> ids;
  std::istringstream lines(out.substr(0, out.rfind('\n') + 1));  // a last line cut off was not said
  long long id = 0;
  while (lines >> id) ids.push_back(id);
  return ids;
}

std::string ask(const std::filesystem::path& db, const std::string& question) {
  const parts::Ran ran = parts::run({"sqlite3", db.string(), question});
  EXPECT_EQ(ran.status, 0) << ran.err;
  return ran.out;
}

parts::Process writer(const std::filesystem::path& folder) {
  return parts::Process(
      {std::string(TUBWARDEN_BIN_DIR) + "/../tests/record_writer", folder.string()});
}

TEST(RecordKilled, NothingAnsweredIsLostAndNoHalfTransactionStays) {
  const parts::TempFolder folder;
  std::mt19937 dice(20261125);
  std::uniform_int_distribution<int> more(1, 200);
  for (int round = 0; round < 20; ++round) {
    auto process = writer(folder.path());
    const std::size_t target = static_cast<std::size_t>(more(dice));
    ASSERT_TRUE(parts::wait_until([&] { return answered(process.out()).size() >= target; }, 20s))
        << process.err();
    process.signal(SIGKILL);
    ASSERT_TRUE(process.wait(5s));
    const auto ids = answered(process.out());
    const auto db = folder.path() / "record.db";
    ASSERT_EQ(ask(db, "pragma integrity_check"), "ok\n");
    ASSERT_EQ(ask(db, "select count(*) from entry where id=" + std::to_string(ids.back())), "1\n")
        << "round " << round << ", entry " << ids.back() << " was answered";
    ASSERT_EQ(ask(db, "select count(*) % 2 from entry"), "0\n") << "two entries a transaction";
    ASSERT_EQ(ask(db, "select count(*) from entry where id<=" + std::to_string(ids.back())),
              std::to_string(ids.back()) + "\n")
        << "ids go on without a gap";
  }
}

TEST(RecordOnAFullDisk, TheErrorIsSaidAndWhatWasAnsweredStays) {
  const parts::TempFolder folder;
  if (::mount("tubwarden-test", folder.path().c_str(), "tmpfs", 0, "size=1m") != 0) {
    GTEST_SKIP() << "a small disk cannot be mounted here: " << std::strerror(errno);
  }
  {
    auto process = writer(folder.path());
    const auto status = process.wait(60s);
    ASSERT_TRUE(status) << "the disk should be full by now";
    EXPECT_EQ(*status, 1);
    EXPECT_NE(process.err().find("full"), std::string::npos) << process.err();
    const auto ids = answered(process.out());
    ASSERT_FALSE(ids.empty());
    ASSERT_EQ(::mount("tubwarden-test", folder.path().c_str(), "tmpfs", MS_REMOUNT, "size=8m"), 0);
    const auto db = folder.path() / "record.db";
    EXPECT_EQ(ask(db, "pragma integrity_check"), "ok\n");
    EXPECT_EQ(ask(db, "select count(*) from entry where id<=" + std::to_string(ids.back())),
              std::to_string(ids.back()) + "\n");
    auto again = writer(folder.path());
    EXPECT_TRUE(parts::wait_until([&] { return !answered(again.out()).empty(); }, 20s))
        << "with room again it goes on: " << again.err();
  }
  ::umount2(folder.path().c_str(), MNT_DETACH);
}

}  // namespace
