// Starting and going on without a broker, without a network, and with a journal that stands still.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <algorithm>
#include <fstream>
#include <future>

#include "../daemon/rig.hpp"
#include "manager.hpp"

namespace {

using namespace rig;
using stay::Manager;

const std::string kMister = "shed/tub-1/mister";

bool has(const std::vector<std::string>& causes, const std::string& cause) {
  return std::find(causes.begin(), causes.end(), cause) != causes.end();
}

TEST(Boot, WithoutABrokerIsReadySafeAndAlertedAndGoesOnWhenThereIsOne) {
  Rig r;
  Manager manager;
  r.write_tub({});
  r.broker().kill();
  r.environment = {manager.environment()};
  r.start_without_waiting();
  ASSERT_TRUE(r.wait([&] { return manager.heard("READY=1"); })) << r.log();
  const json s = r.status();
  EXPECT_FALSE(s["broker"]["up"].get<bool>());
  EXPECT_EQ(r.actuator("tub-1", "mister")["level_pct"], 0.0);
  EXPECT_TRUE(r.wait([&] { return has(r.alert_causes("site"), "broker_lost"); }, 15s)) << r.log();
  EXPECT_TRUE(r.wait([&] { return manager.heard("STATUS=1 tub, broker away, "); }, 20s));
  EXPECT_EQ(r.cli({"phase", "tub-1", "fruiting"}).status, 0) << "the record needs no broker";

  r.broker().restart();
  ASSERT_TRUE(r.wait([&] { return r.status()["broker"]["up"].get<bool>(); }, 20s)) << r.log();
  EXPECT_TRUE(r.wait([&] { return r.alert_causes("site").empty(); }));
  ASSERT_TRUE(r.wait([&] { return r.actuator("tub-1", "mister")["health"] == "ready"; }, 20s));
  parts::Listener relay(r.broker().url(), {kMister});
  r.air("tub-1", 80.0);
  EXPECT_TRUE(relay.wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s))
      << r.log();
}

TEST(Boot, WithoutANetworkIsReadyAllTheSame) {
  if (::geteuid() != 0) GTEST_SKIP() << "only root may take the network away from a process";
  Rig r;
  Manager manager;
  r.write_tub({});
  r.environment = {manager.environment()};
  r.started_by = {"unshare", "--net"};  // not even a loopback that is up
  r.start_without_waiting();
  ASSERT_TRUE(r.wait([&] { return manager.heard("READY=1"); })) << r.log();
  EXPECT_FALSE(r.status()["broker"]["up"].get<bool>());
  EXPECT_TRUE(r.wait([&] { return has(r.alert_causes("site"), "broker_lost"); }, 15s)) << r.log();
  EXPECT_EQ(r.stop(), 0);
}

TEST(Watchdog, IsFedWhileAFloodOfReadingsKeepsTheLoopBusy) {
  Rig r;
  Manager manager;
  r.write_tub({});
  r.environment = {manager.environment(), "WATCHDOG_USEC=2000000"};
  r.start();
  r.cli({"phase", "tub-1", "fruiting"});
  // Bounded: 400,000 messages of one publisher, or seven seconds.
  parts::Process flood({"mosquitto_pub", "-h", "127.0.0.1", "-p", std::to_string(r.broker().port()),
                        "-t", "shed/tub-1/air", "-m", R"({"rh":87,"t":17})", "--repeat", "400000"});
  const auto taken = [&] { return r.status()["broker"]["received"].get<std::uint64_t>(); };
  const std::uint64_t before = taken();
  manager.words();
  const auto begun = parts::Steady::now();
  ASSERT_TRUE(r.wait(
      [&] {
        manager.words();
        return parts::Steady::now() - begun > 7s || flood.wait(0ms);
      },
      10s));
  const auto ended = parts::Steady::now();
  EXPECT_GT(taken() - before, 5000u) << "it was a flood";
  auto last = begun;
  std::chrono::duration<double, std::milli> longest{0};
  for (const Manager::Word& word : manager.words()) {
    if (word.text != "WATCHDOG=1" || word.at < begun || word.at > ended) continue;
    longest = std::max<std::chrono::duration<double, std::milli>>(longest, word.at - last);
    last = word.at;
  }
  longest = std::max<std::chrono::duration<double, std::milli>>(longest, ended - last);
  std::printf("watchdog_gap_ms_max %.0f (WatchdogSec 2 s)\n", longest.count());
  EXPECT_LT(longest.count(), 2000.0);
}

TEST(Watchdog, IsNotFedWhileATurnHangs) {
  Rig r;
  Manager manager;
  r.write_tub({});
  const std::string hang = (r.folder().path() / "hang").string();
  r.environment = {manager.environment(), "WATCHDOG_USEC=600000", "LD_PRELOAD=" TUBWARDEN_HANG_LIB,
                   "TUBWARDEN_TEST_HANG=" + hang};
  r.start();
  const auto fed = [&] {
    const auto& words = manager.words();
    return std::count_if(words.begin(), words.end(),
                         [](const Manager::Word& w) { return w.text == "WATCHDOG=1"; });
  };
  const auto at_first = fed();
  ASSERT_TRUE(r.wait([&] { return fed() >= at_first + 3; })) << "it is fed while nothing happens";
  // From now on the name of who asks is never found: the loop is in the turn that looks for it.
  std::ofstream(hang).put('x');
  auto asked = std::async(std::launch::async, [&] { return r.cli({"status"}); });
  const auto later = parts::Steady::now();
  ASSERT_TRUE(r.wait([&] { return parts::Steady::now() - later > 500ms; }));
  const auto hung = fed();
  ASSERT_TRUE(r.wait([&] { return parts::Steady::now() - later > 2500ms; }));
  EXPECT_EQ(fed(), hung) << "three intervals without a completed turn";
  EXPECT_FALSE(r.daemon().wait(0ms)) << "it hangs, and has not ended";
  r.daemon().signal(SIGKILL);
  asked.wait();
}

TEST(Log, AJournalThatStandsStillHoldsNoTurnUpAndNoEnd) {
  Rig r;
  r.write_tub({});
  const std::string pipe = (r.folder().path() / "journal").string();
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  const int journal = ::open(pipe.c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
  ASSERT_GE(journal, 0);
  const std::string page(4096, 'x');
  while (::write(journal, page.data(), page.size()) > 0) continue;  // full, and never read
  r.started_by = {"sh", "-c", "exec \"$@\" 2>" + pipe, "sh"};
  r.start();
  r.cli({"phase", "tub-1", "fruiting"});
  parts::Listener relay(r.broker().url(), {kMister});
  r.air("tub-1", 80.0);
  EXPECT_TRUE(relay.wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s));
  EXPECT_TRUE(r.wait([&] { return r.status()["log"]["lost"].get<int>() > 0; })) << "it is counted";
  EXPECT_EQ(r.stop(), 0);
  ::close(journal);
}

}  // namespace
