// Killed at any moment, readings are lost from the end only, and no more of them than was promised;
// whatever was being closed or dropped just then is there once, in the tail or in its chunk.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/mount.h>

#include <cstring>
#include <random>
#include <sstream>

#include "parts/parts.hpp"
#include "shell/record/readings_file.hpp"

namespace {

using namespace std::chrono_literals;
using namespace tubwarden;

constexpr auto kGroup = 300ms;
/// What a slow disk may add; the daemon's own group leaves 10 s for it in the 60 that are promised.
constexpr auto kSlowDisk = 5000ms;

struct Said {
  long long number = -1;
  std::chrono::milliseconds at{0};
};

std::vector<Said> said(const std::string& out) {
  std::vector<Said> all;
  std::istringstream lines(out.substr(0, out.rfind('\n') + 1));  // a last line cut off was not said
  long long number = 0, at = 0;
  while (lines >> number >> at) all.push_back({number, std::chrono::milliseconds(at)});
  return all;
}

struct ReadingsKilled : ::testing::Test {
  parts::TempFolder folder;
  long long next = 0;  ///< the first reading that is not kept

  parts::Process writer() const {
    return parts::Process({std::string(TUBWARDEN_BIN_DIR) + "/../tests/record_writer",
                           folder.path().string(), "readings", std::to_string(next),
                           std::to_string(kGroup.count())});
  }
  /// From the first to the last that was said; nothing before the first.
  static std::chrono::milliseconds span_of(const parts::Process& process) {
    const auto all = said(process.out());
    return all.empty() ? -1ms : all.back().at - all.front().at;
  }
  /// Reads what is kept: numbers from 0 on, each once and in order, or the test fails.
  void read_kept() {
    ReadingsFile file((folder.path() / "readings.db").string(), "boot-fixed", RecordKeep{});
    next = 0;
    while (true) {
      const std::int64_t from = 32'400 + next * 10;
      const History h = file.history({"tub-1",
                                      {},
                                      WallTime(seconds(from)),
                                      WallTime(seconds(from + 1'000'000)),
                                      milliseconds(0)});
      EXPECT_EQ(h.damaged, 0U);
      if (h.series.empty()) return;
      for (const HistoryPoint& p : h.series[0].points) {
        ASSERT_EQ(p.at, WallTime(seconds(32'400 + next * 10))) << "reading " << next;
        ASSERT_NEAR(p.mean, static_cast<double>(next % 10'000) / 100.0, 1e-9) << next;
        ++next;
      }
    }
  }
  std::string ask(const std::string& question) const {
    const parts::Ran ran =
        parts::run({"sqlite3", (folder.path() / "readings.db").string(), question});
    EXPECT_EQ(ran.status, 0) << ran.err;
    return ran.out;
  }
};

TEST_F(ReadingsKilled, AtAnyMomentLeavesNoGapAndNothingTwice) {
  std::mt19937 dice(20261125);
  for (int round = 0; round < 12; ++round) {
    auto process = writer();
    const std::chrono::milliseconds lives(dice() % (4 * kGroup.count()));
    ASSERT_TRUE(parts::wait_until([&] { return span_of(process) >= lives; }, 30s)) << process.err();
    process.signal(SIGKILL);
    ASSERT_TRUE(process.wait(5s));
    const long long before = next;
    ASSERT_NO_FATAL_FAILURE(read_kept()) << "round " << round;
    ASSERT_GE(next, before) << "what was kept stays";
    ASSERT_LE(next, said(process.out()).back().number + 6);
    ASSERT_EQ(ask("pragma integrity_check"), "ok\n");
  }
  EXPECT_GT(std::stoi(ask("select count(*) from chunk")), 3) << "chunks were closed meanwhile";
}

TEST_F(ReadingsKilled, LosesNoMoreThanWasPromised) {
  for (int round = 0; round < 2; ++round) {
    auto process = writer();
    ASSERT_TRUE(parts::wait_until([&] { return span_of(process) > kGroup + kSlowDisk + 1s; }, 40s));
    process.signal(SIGKILL);
    ASSERT_TRUE(process.wait(5s));
    const auto all = said(process.out());
    const auto promised = all.back().at - kGroup - kSlowDisk;
    long long handed_over = -1;
    for (const Said& s : all) {
      if (s.at <= promised) handed_over = s.number;
    }
    ASSERT_GT(handed_over, next) << "something was promised";
    ASSERT_NO_FATAL_FAILURE(read_kept());
    EXPECT_GT(next, handed_over);
  }
}

TEST(ReadingsOnAFullDisk, LoseTheGroupThatDidNotFitAndGoOnWithRoom) {
  const parts::TempFolder folder;
  if (::mount("tubwarden-test", folder.path().c_str(), "tmpfs", 0, "size=600k") != 0) {
    GTEST_SKIP() << "a small disk cannot be mounted here: " << std::strerror(errno);
  }
  {
    ReadingsFile file((folder.path() / "readings.db").string(), "boot-fixed", RecordKeep{});
    std::int64_t second = 0;
    std::uint64_t kept = 0, lost = 0;
    const auto write_group = [&] {
      RecordGroup group;
      for (int i = 0; i < 200; ++i, second += 10) {
        group.readings.push_back({"tub-1", "air", Quantity::humidity, 87.0 + i % 7,
                                  WallTime(hours(9) + seconds(second)), true,
                                  Instant(seconds(second))});
      }
      try {
        file.take(group);
        kept += file.commit();
        file.tidy();
      } catch (const sql::SqlError& error) {
        EXPECT_NE(std::string(error.what()).find("full"), std::string::npos) << error.what();
        lost += file.forget();
      }
    };
    while (lost == 0 && second < 100'000'000) write_group();
    ASSERT_EQ(lost, 200U) << "the disk should be full by now";
    const auto points = [&] {
      const History h = file.history({"tub-1", {}, WallTime{}, WallTime::max(), milliseconds(0)});
      return h.series.empty() ? 0 : h.series[0].points.size();
    };
    EXPECT_EQ(points(), kept);
    ASSERT_EQ(::mount("tubwarden-test", folder.path().c_str(), "tmpfs", MS_REMOUNT, "size=8m"), 0);
    const std::uint64_t before = kept;
    write_group();
    EXPECT_EQ(kept, before + 200);
    EXPECT_EQ(points(), kept);
  }
  ::umount2(folder.path().c_str(), MNT_DETACH);
}

TEST(ReadingsPromise, TheDaemonsOwnGroupIsWithinAMinute) {
  EXPECT_LE(RecordOptions{}.group_within + seconds(10), seconds(60));
}

}  // namespace
