// What happens when a driver hangs or crashes, or when the daemon's side dies or stands still.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <algorithm>
#include <cstdlib>
#include <sstream>

#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

std::size_t count(const std::vector<Line>& lines, const std::string& call) {
  return static_cast<std::size_t>(std::count_if(
      lines.begin(), lines.end(), [&](const Line& line) { return line.call == call; }));
}

TEST(Faults, a_hanging_driver_is_made_safe_by_a_new_process_after_the_old_one_ended) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "hang_in_apply", file_wiring(file), milliseconds(600))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const int hung = b.pid("fan");
  const std::string hung_pid = std::to_string(hung);
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return count(faulty_lines(file), "apply") == 1; }));
  const std::int64_t began = faulty_lines(file).back().ns;
  ASSERT_TRUE(b.until([&] {
    return faulty_lines(file).back().who != hung_pid && count(faulty_lines(file), "safe") >= 2;
  }));
  const auto lines = faulty_lines(file);
  const auto other = std::find_if(lines.begin(), lines.end(),
                                  [&](const Line& line) { return line.who != hung_pid; });
  ASSERT_NE(other, lines.end());
  EXPECT_EQ(other->call, "open");
  EXPECT_EQ((other + 1)->call, "safe");
  std::printf("hang_to_safe_ms %.1f (lease 600 ms)\n",
              static_cast<double>((other + 1)->ns - began) / 1e6);
  EXPECT_LT(Duration((other + 1)->ns - began), milliseconds(600) + milliseconds(1500));
  for (auto line = other; line != lines.end(); ++line) {
    EXPECT_NE(line->who, hung_pid) << "the old process touched it after the new one opened it";
  }
  EXPECT_NE(::kill(hung, 0), 0);
  EXPECT_TRUE(b.said("apply did not return within 600 ms"));
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << "and its host is started again";
  const auto after = faulty_lines(file).size();
  EXPECT_EQ(faulty_lines(file)[after - 1].call, "safe") << "it waits for a fresh command";
}

TEST(Faults, a_driver_that_hangs_the_safe_run_too_is_told_as_unsafe) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay", mark = folder.path() / "hung";
  ::setenv("FAULTY_HUNG", mark.c_str(), 1);
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "hang_always", file_wiring(file), milliseconds(500))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  folder.write("hung", "");
  b.command("fan", kRun);
  ASSERT_TRUE(b.until_health("fan", OutputHealth::unsafe, 20s));
  EXPECT_FALSE(b.last_why("fan").empty());
  std::filesystem::remove(mark);
  ::unsetenv("FAULTY_HUNG");
}

TEST(Faults, a_crashed_host_is_started_again_safe_and_waits_for_a_fresh_command) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRun; }));
  const int old = b.pid("fan");
  ASSERT_EQ(::kill(old, SIGKILL), 0);
  ASSERT_TRUE(b.until([&] {
    return b.pid("fan") != 0 && b.pid("fan") != old && b.health("fan") == OutputHealth::ready;
  }));
  EXPECT_EQ(simulated_lines(file).back().level, kRest);
  const auto lines = simulated_lines(file).size();
  // Three renewals' time: what was on loan before is not renewed into the new host.
  const auto end = std::chrono::steady_clock::now() + 3s;
  ASSERT_TRUE(b.until([&] { return std::chrono::steady_clock::now() > end; }));
  EXPECT_EQ(simulated_lines(file).size(), lines);
}

TEST(Faults, three_crashes_fail_safe_until_released) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "crash_in_apply", file_wiring(file))});
  for (int crash = 0; crash < 3; ++crash) {
    ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
    const int pid = b.pid("fan");
    b.command("fan", kRun);
    ASSERT_TRUE(b.until([&] { return b.pid("fan") != pid; }));
  }
  ASSERT_TRUE(b.until_health("fan", OutputHealth::failed_safe));
  EXPECT_NE(b.last_why("fan").find("three crashes in ten minutes"), std::string::npos);
  // Nobody holds it any more: a last process made it safe and closed it.
  ASSERT_TRUE(b.until([&] { return faulty_lines(file).back().call == "close"; }));
  const auto lines = faulty_lines(file);
  EXPECT_EQ(count(lines, "apply"), 3u);
  EXPECT_EQ(count(lines, "open"), 4u);
  b.command("fan", kRun);
  EXPECT_EQ(b.drivers.dropped_commands(), 1u);
  EXPECT_EQ(b.pid("fan"), 0);
  b.drivers.release({"tub", "fan"});
  EXPECT_TRUE(b.until_health("fan", OutputHealth::ready));
}

TEST(Faults, a_driver_that_crashes_in_open_ends_unsafe_not_in_a_loop) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "crash_in_open", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::unsafe));
  EXPECT_EQ(count(faulty_lines(file), "open"), 4u) << "three hosts and one safe-run";
}

TEST(Faults, a_host_that_stands_still_is_ended_and_its_outputs_made_safe_on_the_way_out) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRun; }));
  ASSERT_EQ(::kill(b.pid("fan"), SIGSTOP), 0);
  ASSERT_TRUE(b.stop());
  EXPECT_EQ(simulated_lines(file).back().level, kRest);
}

TEST(Faults, a_host_that_stands_still_while_its_output_runs_is_ended_and_the_next_makes_safe) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file), milliseconds(900))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRun; }));
  const int stopped = b.pid("fan");
  const auto began = parts::Steady::now();
  ASSERT_EQ(::kill(stopped, SIGSTOP), 0);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRest; }));
  const auto took = parts::Steady::now() - began;
  std::printf("host_stopped_to_safe_ms %.0f (lease 900 ms)\n", 1000.0 * seconds_of(took));
  EXPECT_LT(took, milliseconds(3000)) << "a third of the lease, 1.4 s of silence, a start";
  EXPECT_TRUE(b.said("its host stands still"));
  EXPECT_NE(::kill(stopped, 0), 0);
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  EXPECT_EQ(b.drivers.hosts().front().restarts, 1);
}

/// Kills the host while its output runs, and waits until its end was seen: the restart is still to
/// come.
void crash(Bench& b, const std::filesystem::path& file) {
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRun; }));
  const int pid = b.pid("fan");
  ASSERT_NE(pid, 0);
  ASSERT_EQ(::kill(pid, SIGKILL), 0);
  ASSERT_TRUE(b.until([&] { return b.pid("fan") == 0; }));
}

TEST(Faults, an_output_that_leaves_while_its_host_lies_dead_is_made_safe_all_the_same) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  crash(b, file);
  b.drivers.want({});
  EXPECT_TRUE(b.until([&] { return simulated_lines(file).size() >= 4; }))
      << "safe, run, safe, safe";
  EXPECT_EQ(simulated_lines(file).back().level, kRest);
}

TEST(Faults, a_stop_while_a_host_lies_dead_makes_safe_first) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  crash(b, file);
  ASSERT_TRUE(b.stop());
  EXPECT_GE(simulated_lines(file).size(), 3u);
  EXPECT_EQ(simulated_lines(file).back().level, kRest);
}

TEST(Faults, sigterm_makes_safe) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(file).back().level == kRun; }));
  ASSERT_EQ(::kill(b.pid("fan"), SIGTERM), 0);
  ASSERT_TRUE(parts::wait_until([&] { return simulated_lines(file).back().level == kRest; }, 2s));
}

/// The daemon's side in a process of its own, with three hosts.
class Supervised : public testing::Test {
 protected:
  void SetUp() override {
    ASSERT_EQ(::mkfifo((folder_.path() / "orders").c_str(), 0600), 0);
    supervisor_ = std::make_unique<parts::Process>(std::vector<std::string>{
        SUPERVISOR, (folder_.path() / "orders").string(), kHost, kPlugins, "{}"});
    orders_.open(folder_.path() / "orders");
    for (const char* id : {"a", "b", "c"}) {
      order("output tub " + std::string(id) + " simulated 0 900 1 " + file_wiring(file(id)));
    }
    order("want");
    for (const char* id : {"a", "b", "c"}) {
      ASSERT_TRUE(printed("report tub/" + std::string(id) + " ready"));
      order("command tub " + std::string(id) + " 1000 0");
      ASSERT_TRUE(parts::wait_until([&] { return level(id) == kRun; }, 5s));
    }
    order("hosts");
    ASSERT_TRUE(printed("host tub/c "));
    std::istringstream out(supervisor_->out());
    for (std::string word; out >> word;) {
      int pid = 0;
      if (word == "host" && out >> word >> pid) pids_.push_back(pid);
    }
    ASSERT_EQ(pids_.size(), 3u);
  }
  void TearDown() override {
    for (const int pid : pids_) {
      EXPECT_TRUE(parts::wait_until([&] { return ended(pid); }, 5s)) << pid;
    }
  }
  void order(const std::string& line) { orders_ << line << std::endl; }
  bool printed(const std::string& line) {
    return parts::wait_until([&] { return supervisor_->out().find(line) != std::string::npos; },
                             5s);
  }
  std::filesystem::path file(const std::string& id) const { return folder_.path() / id; }
  Level level(const std::string& id) const {
    const auto lines = simulated_lines(file(id));
    return lines.empty() ? kRest : lines.back().level;
  }
  /// Gone, or a zombie that nobody here can reap.
  static bool ended(int pid) {
    std::ifstream file("/proc/" + std::to_string(pid) + "/stat");
    std::string stat;
    return !std::getline(file, stat) || stat.find(") Z") != std::string::npos;
  }
  std::int64_t now_ns() const {
    timespec t{};
    ::clock_gettime(CLOCK_BOOTTIME, &t);
    return t.tv_sec * 1'000'000'000LL + t.tv_nsec;
  }

  parts::TempFolder folder_;
  std::unique_ptr<parts::Process> supervisor_;
  std::ofstream orders_;
  std::vector<int> pids_;
};

TEST_F(Supervised, kill_9_of_the_daemon_reaches_three_hosts_at_once) {
  const std::int64_t killed = now_ns();
  supervisor_->signal(SIGKILL);
  for (const char* id : {"a", "b", "c"}) {
    ASSERT_TRUE(parts::wait_until([&] { return level(id) == kRest; }, 5s)) << id;
    const Duration took(simulated_lines(file(id)).back().ns - killed);
    EXPECT_LT(took, milliseconds(900)) << "not by the lease but by the end of its socket";
    std::printf("daemon_killed_to_safe_ms %.2f\n", 1000.0 * seconds_of(took));
  }
}

TEST_F(Supervised, a_daemon_that_stands_still_loses_its_leases) {
  const std::int64_t stopped = now_ns();
  supervisor_->signal(SIGSTOP);
  for (const char* id : {"a", "b", "c"}) {
    ASSERT_TRUE(parts::wait_until([&] { return level(id) == kRest; }, 5s)) << id;
    const Duration took(simulated_lines(file(id)).back().ns - stopped);
    EXPECT_LT(took, milliseconds(900 + 200));
    std::printf("daemon_stopped_to_safe_ms %.2f (lease 900 ms)\n", 1000.0 * seconds_of(took));
  }
  supervisor_->signal(SIGCONT);
  ASSERT_TRUE(printed("report tub/a starting\nreport tub/")) << supervisor_->out();
  for (const char* id : {"a", "b", "c"}) EXPECT_EQ(level(id), kRest) << "not brought back";
  order("stop");
  EXPECT_TRUE(printed("stopped"));
}

}  // namespace
}  // namespace tubwarden
