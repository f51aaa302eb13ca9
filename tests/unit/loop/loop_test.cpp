#include <gtest/gtest.h>
#include <signal.h>
#include <stdlib.h>
#include <time.h>

#include <boost/asio/io_context.hpp>
#include <filesystem>
#include <fstream>

#include "base/text.hpp"
#include "parts/parts.hpp"
#include "shell/loop/board_clock.hpp"
#include "shell/loop/folder_watch.hpp"
#include "shell/loop/signal_watch.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

bool turn_until(boost::asio::io_context& loop, const std::function<bool()>& sign,
                std::chrono::milliseconds limit = 10s) {
  const auto end = parts::Steady::now() + limit;
  while (!sign() && parts::Steady::now() < end) loop.run_for(5ms);
  return sign();
}

// --- BoardClock ---

TEST(BoardClock, ReadsTheBoardsOwnClocks) {
  const BoardClock clock;
  timespec boot{}, wall{};
  clock_gettime(CLOCK_BOOTTIME, &boot);
  const Instant now = clock.now();
  EXPECT_GE(now, Instant(seconds(boot.tv_sec) + std::chrono::nanoseconds(boot.tv_nsec)));
  EXPECT_LT(now, Instant(seconds(boot.tv_sec + 5)));
  clock_gettime(CLOCK_REALTIME, &wall);
  EXPECT_NEAR(static_cast<double>(clock.wall().time_since_epoch().count()),
              static_cast<double>(wall.tv_sec) * 1000.0, 5000.0);
}

TEST(BoardClock, NamesTheBootAsTheKernelDoes) {
  std::string id = parts::read_file("/proc/sys/kernel/random/boot_id");
  id.resize(id.find('\n'));
  EXPECT_EQ(BoardClock().boot_id(), id);
}

TEST(BoardClock, BelievesTheWallClockFromTheFloorOn) {
  BoardClock clock(WallTime(milliseconds(0)));
  EXPECT_TRUE(clock.wall_is_set());
  clock.raise_floor(clock.wall() + minutes(5));  // within the slack of a correction
  EXPECT_TRUE(clock.wall_is_set());
  clock.raise_floor(clock.wall() + hours(1));
  EXPECT_FALSE(clock.wall_is_set());
  clock.raise_floor(WallTime(milliseconds(0)));  // never lowered
  EXPECT_FALSE(clock.wall_is_set());
}

TEST(BoardClock, LocalSecondFollowsTheZone) {
  const BoardClock clock;
  const auto in_zone = [&](const char* zone) {
    ::setenv("TZ", zone, 1);
    ::tzset();
    return clock.local_second_of_day();
  };
  const int utc = in_zone("UTC0");
  const int east = in_zone("EAST-03:30");  // POSIX: three and a half hours ahead
  ::unsetenv("TZ");
  ::tzset();
  EXPECT_GE(utc, 0);
  EXPECT_LT(utc, 86400);
  EXPECT_NEAR((east - utc + 86400) % 86400, 12600, 5);
}

/// The board's zone for a while.
class Zone {
 public:
  explicit Zone(const char* name) {
    ::setenv("TZ", name, 1);
    ::tzset();
  }
  ~Zone() {
    ::unsetenv("TZ");
    ::tzset();
  }
};

WallTime utc(const char* text) { return parse_rfc3339(text).value(); }

// Changes of the tz database: at 01:00 UTC of the last Sunday of March and of October (directive
// 2000/84/EC, articles 2 and 3); in New York at 02:00 local of the second Sunday of March.
TEST(LocalTime, HoldsUntilDaylightSavingBeginsOrEnds) {
  struct Case {
    const char* zone;
    const char* change;
    int before, after;  ///< local hours at the last second before it, and at it
  };
  const Case cases[] = {
      {"Europe/Berlin", "2026-03-29T01:00:00Z", 1, 3},
      {"Europe/Berlin", "2026-10-25T01:00:00Z", 2, 2},
      {"Europe/Berlin", "2027-03-28T01:00:00Z", 1, 3},
      {"America/New_York", "2026-03-08T07:00:00Z", 1, 3},
      {"Australia/Lord_Howe", "2026-10-03T15:30:00Z", 1, 2},  // half an hour only
  };
  for (const Case& c : cases) {
    const Zone zone(c.zone);
    ASSERT_NE(std::string(::tzname[0]), "UTC") << "no zone data of " << c.zone;
    const WallTime change = utc(c.change);
    EXPECT_EQ(local_time_holds(change - minutes(25)), minutes(25)) << c.zone << " " << c.change;
    EXPECT_EQ(local_time_holds(change - milliseconds(1500)), milliseconds(1500));
    EXPECT_EQ(local_time_holds(change - milliseconds(1)), milliseconds(1));
    EXPECT_EQ(local_time_holds(change), hours(1)) << "the next one is half a year off";
    EXPECT_EQ(local_time_holds(change - minutes(61)), hours(1));
    EXPECT_EQ(local_second_of_day(change - milliseconds(1)) / 3600, c.before) << c.change;
    EXPECT_EQ(local_second_of_day(change) / 3600, c.after) << c.change;
  }
}

TEST(LocalTime, HoldsAllTheYearWhereNothingChanges) {
  const Zone zone("Asia/Kolkata");
  for (WallTime at = utc("2026-01-01T00:00:00Z"); at < utc("2027-01-01T00:00:00Z");
       at += hours(7)) {
    ASSERT_EQ(local_time_holds(at), hours(1));
  }
}

// --- SignalWatch ---

TEST(SignalWatch, TellsStopAndReloadOnTheLoop) {
  boost::asio::io_context loop;
  int reloads = 0;
  int stopped = 0;
  const SignalWatch watch(loop, {[&](int number) { stopped = number; }, [&] { ++reloads; }});
  ::raise(SIGHUP);
  EXPECT_TRUE(turn_until(loop, [&] { return reloads == 1; }));
  ::raise(SIGHUP);
  EXPECT_TRUE(turn_until(loop, [&] { return reloads == 2; }));
  ::raise(SIGTERM);
  EXPECT_TRUE(turn_until(loop, [&] { return stopped == SIGTERM; }));
  ::raise(SIGINT);
  EXPECT_TRUE(turn_until(loop, [&] { return stopped == SIGINT; }));
}

// --- FolderWatch ---

TEST(EditorsNames, ArePassedOver) {
  for (const char* name : {".tub.yaml.swp", "tub.yaml~", "tub.yaml.swx", "tub.yaml.tmp",
                           "#tub.yaml#", ".#tub.yaml", "4913", "", "a.swp"}) {
    EXPECT_TRUE(is_editors_name(name)) << name;
  }
  for (const char* name : {"tub.yaml", "4913.yaml", "#", "tub-1", "tmp", "a#b"}) {
    EXPECT_FALSE(is_editors_name(name)) << name;
  }
}

/// By inotify or by the poll alone, with the poll of the other far away.
class FolderWatching : public testing::TestWithParam<bool> {
 protected:
  void SetUp() override {
    folder.write("conf/tubwarden.yaml", "site: cellar\n");
    folder.write("conf/tubs/tub-1.yaml", "phase: casing\n");
    FolderWatch::Options options;
    options.settle = milliseconds(50);
    options.inotify = GetParam();
    options.poll = GetParam() ? Duration(hours(1)) : Duration(milliseconds(40));
    watch.emplace(
        loop, conf(), [this] { ++told; }, options);
    EXPECT_EQ(watch->by_inotify(), GetParam());
  }
  fs::path conf() const { return folder.path() / "conf"; }
  void expect_told(const char* of) {
    EXPECT_TRUE(turn_until(loop, [&] { return told > seen; })) << of;
    settle();
  }
  /// A later write is a sign that everything before it has been looked at.
  void expect_not_told(const char* of) {
    const int before = told;
    folder.write("conf/marker.yaml", std::to_string(++markers));
    EXPECT_TRUE(turn_until(loop, [&] { return told > before; }));
    settle();
    EXPECT_EQ(told, before + 1) << of;
  }
  void settle() {
    loop.run_for(120ms);  // over settle and poll: nothing may follow
    seen = told;
  }

  parts::TempFolder folder;
  boost::asio::io_context loop;
  int told = 0;
  int seen = 0;
  int markers = 0;
  std::optional<FolderWatch> watch;
};
INSTANTIATE_TEST_SUITE_P(, FolderWatching, testing::Values(true, false),
                         [](const auto& way) { return way.param ? "inotify" : "poll"; });

TEST_P(FolderWatching, TellsASaveInPlace) {
  folder.write("conf/tubs/tub-1.yaml", "phase: pinning\n");
  expect_told("saved in place");
}

TEST_P(FolderWatching, TellsARenameAndSaveOnce) {
  folder.write_by_rename("conf/tubs/tub-1.yaml", "phase: fruiting\n");
  expect_told("renamed over");
  EXPECT_EQ(told, 1);
}

TEST_P(FolderWatching, TellsASaveThatMovesTheOldFileAwayFirst) {
  fs::rename(conf() / "tubs/tub-1.yaml", conf() / "tubs/tub-1.yaml~");
  folder.write("conf/tubs/tub-1.yaml", "phase: pinning\n");
  expect_told("old one moved to a backup name");
}

TEST_P(FolderWatching, PassesOverEditorsNames) {
  folder.write("conf/tubs/.tub-1.yaml.swp", "x");
  folder.write("conf/tubs/4913", "");
  folder.write("conf/tubs/tub-1.yaml~", "x");
  folder.write("conf/#tubwarden.yaml#", "x");
  expect_not_told("temporary names");
}

TEST_P(FolderWatching, TellsRemovalAndNewFiles) {
  fs::remove(conf() / "tubs/tub-1.yaml");
  expect_told("removed");
  folder.write("conf/tubs/tub-2.yaml", "phase: casing\n");
  expect_told("a new file");
}

TEST_P(FolderWatching, FollowsNewSubfolders) {
  folder.write("conf/profiles/button.yaml", "profile: button\n");
  expect_told("a new subfolder");
  folder.write("conf/profiles/button.yaml", "profile: button # again\n");
  expect_told("a file in the new subfolder");
}

TEST_P(FolderWatching, FollowsARenamedSubfolder) {
  fs::rename(conf() / "tubs", conf() / "tubs-old");
  expect_told("subfolder renamed");
  folder.write("conf/tubs-old/tub-1.yaml", "phase: empty\n");
  expect_told("a file in the renamed one");
}

TEST_P(FolderWatching, OutlivesTheFolderMadeAgain) {
  fs::remove_all(conf());
  expect_told("folder removed");
  folder.write("conf/tubs/tub-1.yaml", "phase: grain\n");
  expect_told("folder made again");
  folder.write("conf/tubs/tub-1.yaml", "phase: casing, again\n");
  expect_told("a save in the new folder");
}

TEST_P(FolderWatching, OutlivesTheFolderSwappedByRename) {
  folder.write("next/tubs/tub-1.yaml", "phase: other\n");
  fs::rename(conf(), folder.path() / "old");
  fs::rename(folder.path() / "next", conf());
  expect_told("folder swapped");
  folder.write("conf/tubs/tub-1.yaml", "phase: another one\n");
  expect_told("a save in the swapped folder");
}

TEST_P(FolderWatching, TellsASymbolicLink) {
  folder.write("elsewhere.yaml", "phase: casing\n");
  fs::create_symlink(folder.path() / "elsewhere.yaml", conf() / "tubs/tub-3.yaml");
  expect_told("linked in");
}

TEST_P(FolderWatching, ManySavesAreToldOnceSettled) {
  for (int i = 0; i < 20; ++i) {
    folder.write("conf/tubs/tub-" + std::to_string(i) + ".yaml", std::to_string(i));
  }
  expect_told("many saves");
  EXPECT_EQ(told, 1);
}

TEST_P(FolderWatching, IsQuietOnceGone) {
  watch.reset();
  folder.write("conf/tubs/tub-1.yaml", "phase: late\n");
  loop.run_for(200ms);
  EXPECT_EQ(told, 0);
  EXPECT_TRUE(loop.stopped()) << "work was left behind";
}

TEST(FolderWatch, EndlessWritingIsToldAllTheSame) {
  parts::TempFolder folder;
  folder.write("conf/a.yaml", "0");
  boost::asio::io_context loop;
  int told = 0;
  FolderWatch::Options options;
  options.settle = milliseconds(200);
  options.settle_max = milliseconds(400);
  const FolderWatch watch(
      loop, folder.path() / "conf", [&] { ++told; }, options);
  int writes = 0;
  EXPECT_TRUE(turn_until(loop, [&] {
    folder.write("conf/a.yaml", std::to_string(++writes));
    return told > 0;
  }));
}

TEST(FolderWatch, PollTellsWhatNobodyClosed) {
  parts::TempFolder folder;
  folder.write("conf/a.yaml", "phase: casing\n");
  boost::asio::io_context loop;
  int told = 0;
  FolderWatch::Options options;
  options.settle = milliseconds(20);
  options.poll = milliseconds(50);
  const FolderWatch watch(
      loop, folder.path() / "conf", [&] { ++told; }, options);
  std::ofstream held(folder.path() / "conf/a.yaml", std::ios::app);
  held << "# written, flushed, still open" << std::flush;
  EXPECT_TRUE(turn_until(loop, [&] { return told > 0; }));
}

TEST(FolderWatch, WaitsForAFolderThatIsNotThereYet) {
  parts::TempFolder folder;
  boost::asio::io_context loop;
  int told = 0;
  const FolderWatch watch(loop, folder.path() / "conf", [&] { ++told; });
  folder.write("conf/tubwarden.yaml", "site: cellar\n");
  EXPECT_TRUE(turn_until(
      loop, [&] { return told > 0; }, 2s));
}

}  // namespace
}  // namespace tubwarden
