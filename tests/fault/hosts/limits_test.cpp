// What the kernel holds a host to, tried by drivers that take more than they may.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <optional>
#include <sstream>

#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

std::vector<HostLimit> limits_of(const Bench& b, const std::string& actuator) {
  for (const HostView& host : b.drivers.hosts()) {
    if (host.id.actuator == actuator) return host.limits;
  }
  return {};
}

const HostLimit* find(const std::vector<HostLimit>& limits, const std::string& what) {
  const auto found = std::find_if(limits.begin(), limits.end(),
                                  [&](const HostLimit& limit) { return limit.what == what; });
  return found == limits.end() ? nullptr : &*found;
}

/// The soft limit as the kernel tells it: "Max cpu time", in its own unit, or "unlimited".
std::string kernel_limit(int pid, const std::string& name) {
  std::ifstream file("/proc/" + std::to_string(pid) + "/limits");
  for (std::string line; std::getline(file, line);) {
    if (!line.starts_with(name)) continue;
    std::istringstream rest(line.substr(name.size()));
    std::string soft;
    rest >> soft;
    return soft;
  }
  return "";
}

std::string kernel_status(int pid, const std::string& name) {
  std::ifstream file("/proc/" + std::to_string(pid) + "/status");
  for (std::string word; file >> word;) {
    if (word == name && file >> word) return word;
  }
  return "";
}

std::size_t count(const std::vector<Line>& lines, const std::string& call) {
  return static_cast<std::size_t>(std::count_if(
      lines.begin(), lines.end(), [&](const Line& line) { return line.call == call; }));
}

TEST(Limits, what_the_status_tells_is_what_the_kernel_holds) {
  const int leaked = ::open("/dev/null", O_RDWR);  // without O_CLOEXEC, as a library may
  const parts::TempFolder folder;
  Bench b(kPlugins, "{}", "", {96, 20, minutes(1)});
  b.drivers.want({plan("fan", "simulated", file_wiring(folder.path() / "relay"))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const int pid = b.pid("fan");
  const auto limits = limits_of(b, "fan");
  for (const char* what : {"memory", "cpu", "descriptors", "core", "new privileges"}) {
    ASSERT_NE(find(limits, what), nullptr) << what;
  }
  EXPECT_EQ(find(limits, "cpu")->how, "20 % of a core over 60 s");
  EXPECT_EQ(kernel_limit(pid, "Max cpu time"), "12");
  EXPECT_EQ(kernel_limit(pid, "Max open files"), "256");
  EXPECT_EQ(kernel_limit(pid, "Max core file size"), "0");
  EXPECT_EQ(kernel_status(pid, "NoNewPrivs:"), "1");
  if (find(limits, "memory")->holds) {
    EXPECT_EQ(kernel_limit(pid, "Max data size"), std::to_string(96 << 20));
    EXPECT_EQ(find(limits, "memory")->how, "96 MiB");
  }
  for (const auto& entry :
       std::filesystem::directory_iterator("/proc/" + std::to_string(pid) + "/fd")) {
    std::error_code gone;
    const std::string to = std::filesystem::read_symlink(entry.path(), gone).string();
    const bool null_elsewhere = to == "/dev/null" && entry.path().filename() != "0";
    EXPECT_FALSE(null_elsewhere) << entry.path() << " came along";
  }
  ::close(leaked);
}

TEST(Limits, a_driver_that_eats_memory_takes_nobody_elses_and_is_made_safe) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty, "{}", "", {64, 25, minutes(1)});
  b.drivers.want({plan("fan", "eat_memory", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const auto limits = limits_of(b, "fan");
  if (!find(limits, "memory")->holds) GTEST_SKIP() << "memory: " << find(limits, "memory")->how;
  const std::string eater = std::to_string(b.pid("fan"));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return count(faulty_lines(file), "ate") == 1; }));
  ASSERT_TRUE(b.until([&] {
    const auto lines = faulty_lines(file);
    return lines.back().call == "safe" && lines.back().who != eater;
  })) << "a new host makes it safe";
  for (const Line& line : faulty_lines(file)) {
    if (line.call != "ate") continue;
    EXPECT_LT(line.level, 64u);
    EXPECT_GT(line.level, 16u);
  }
  EXPECT_TRUE(b.said("was ended by signal 6"));
  EXPECT_TRUE(b.until_health("fan", OutputHealth::ready));
}

TEST(Limits, a_driver_that_burns_the_cpu_is_ended_and_made_safe) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty, "{}", "", {128, 2, seconds(30)});  // a second of CPU in 30
  b.drivers.want({plan("fan", "burn_cpu", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const std::string burner = std::to_string(b.pid("fan"));
  b.command("fan", kRun);
  ASSERT_TRUE(b.until(
      [&] {
        const auto lines = faulty_lines(file);
        return lines.back().call == "safe" && lines.back().who != burner;
      },
      25s));
  EXPECT_TRUE(b.said("was ended by signal 24")) << "SIGXCPU";
}

TEST(Limits, a_host_that_keeps_to_its_share_is_granted_the_next) {
  const parts::TempFolder folder;
  Bench b(kPlugins, "{}", "", {128, 50, milliseconds(100)});
  b.drivers.want({plan("fan", "simulated", file_wiring(folder.path() / "relay"))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const int pid = b.pid("fan");
  ASSERT_TRUE(b.until([&] { return kernel_limit(pid, "Max cpu time") == "2"; }))
      << "a second for what it has used, and the least share";
  EXPECT_EQ(b.pid("fan"), pid);
}

/// Nothing where the kernel holds a host to its files; else why not.
std::optional<std::string> files_are_free(const Bench& b, const std::string& actuator) {
  const auto limits = limits_of(b, actuator);
  const HostLimit* files = find(limits, "files");
  if (files == nullptr) return "nothing was said of files";
  return files->holds ? std::nullopt : std::optional(files->how);
}

TEST(Limits, a_driver_reads_no_file_that_its_options_do_not_name) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  folder.write("relay", "");
  folder.write("relay.unnamed", "a secret");
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "open_unnamed", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  if (const auto why = files_are_free(b, "fan")) GTEST_SKIP() << "files: " << *why;
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return count(faulty_lines(file), "unnamed") == 1; }));
  for (const Line& line : faulty_lines(file)) {
    if (line.call != "unnamed") continue;
    EXPECT_EQ(line.level, static_cast<unsigned>(EACCES));
  }
  EXPECT_EQ(b.health("fan"), OutputHealth::ready) << "the file that it names is its own";
}

TEST(Limits, an_output_with_another_file_is_opened_by_a_host_that_may_touch_both) {
  const parts::TempFolder folder;
  const auto one = folder.path() / "one", two = folder.path() / "two";
  Bench b;
  b.drivers.want({plan("fan", "simulated", file_wiring(one))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  if (const auto why = files_are_free(b, "fan")) GTEST_SKIP() << "files: " << *why;
  const int first = b.pid("fan");
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return simulated_lines(one).back().level == kRun; }));
  b.drivers.want(
      {plan("fan", "simulated", file_wiring(one)), plan("mister", "simulated", file_wiring(two))});
  ASSERT_TRUE(b.until_health("mister", OutputHealth::ready)) << b.last_why("mister");
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  EXPECT_EQ(simulated_lines(one).back().level, kRest) << "it was made safe on the way";
  EXPECT_NE(b.pid("fan"), first);
  EXPECT_EQ(b.pid("fan"), b.pid("mister"));
  for (const HostView& host : b.drivers.hosts()) EXPECT_EQ(host.restarts, 0) << "no crash";
  for (const char* id : {"fan", "mister"}) b.command(id, kRun);
  EXPECT_TRUE(b.until([&] {
    return simulated_lines(one).back().level == kRun && simulated_lines(two).back().level == kRun;
  }));
}

TEST(Limits, outputs_that_come_together_need_one_host) {
  const parts::TempFolder folder;
  Bench b;
  std::vector<OutputPlan> plans;
  for (const char* id : {"a", "b", "c", "d"}) {
    plans.push_back(plan(id, "simulated", file_wiring(folder.path() / id)));
  }
  b.drivers.want(plans);
  const int first = b.pid("a");
  for (const char* id : {"a", "b", "c", "d"}) {
    ASSERT_TRUE(b.until_health(id, OutputHealth::ready)) << b.last_why(id);
    EXPECT_EQ(b.pid(id), first);
    EXPECT_EQ(simulated_lines(folder.path() / id).size(), 1u) << "made safe once";
  }
}

TEST(Limits, a_file_that_comes_later_or_anew_is_opened_by_another_host) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "device";
  Bench b;
  b.drivers.want({plan("fan", "simulated", R"({"file":"/dev/shm/no/such"})")});
  ASSERT_TRUE(b.until([&] { return b.said("No such file"); }));
  if (const auto why = files_are_free(b, "fan")) GTEST_SKIP() << "files: " << *why;
  folder.write("device", "");
  b.drivers.want({plan("fan", "simulated", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  const int first = b.pid("fan");
  folder.write_by_rename("device", "");  // the same name, as a device that was plugged in again
  b.drivers.want({plan("fan", "simulated", file_wiring(file), milliseconds(2000))});
  ASSERT_TRUE(b.until([&] { return b.pid("fan") != 0 && b.pid("fan") != first; }));
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  EXPECT_FALSE(simulated_lines(file).empty());
}

}  // namespace
}  // namespace tubwarden
