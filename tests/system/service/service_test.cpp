// tubwarden.service as installed, under a systemd that boots for it in a container; the broker is
// outside.
#include <gtest/gtest.h>
#include <signal.h>
#include <time.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "container.hpp"

namespace {

using namespace std::chrono_literals;
using nlohmann::json;

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kSanitized = true;  // the sandbox forbids what a sanitizer needs
#else
constexpr bool kSanitized = false;
#endif

const std::string kMat = "shed/tub-1/mat";

std::int64_t boot_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_BOOTTIME, &t);
  return t.tv_sec * 1'000'000'000LL + t.tv_nsec;
}

std::string site_text(const std::string& url) {
  return "site: shed\nbroker: {url: \"" + url +
         "\"}\nrecord: {folder: /var/lib/tubwarden}\ncontrol: {socket: "
         "/run/tubwarden/control.sock}\nroom: {temperature: 15 C, humidity: 50 %}\n";
}

constexpr const char* kProfile = R"(profile: button
phases:
  - phase: fruiting
    substrate_temperature: {keep: [16 C, 18 C]}
    humidity: {keep: [85 %, 90 %]}
  - phase: empty
)";

/// The mister is an output of the board, its driver a file; the mat a relay behind the broker.
std::string tub_text(const std::string& lease) {
  return R"(tub: tub-1
batch: B-01
profile: button
phase: fruiting
air:
  net_volume: 40 L
  sensors:
    - {id: air, topic: shed/tub-1/air, humidity: {at: /rh}, stale_after: 2m}
    - {id: bed, topic: shed/tub-1/bed, temperature: {unit: C, place: substrate}, stale_after: 2m}
  actuators:
    - id: mister
      effect: humidify
      rate: 40 g/h
      driver: simulated
      wiring: {file: /var/lib/tubwarden/mister}
      safe: rest
      lease: )" +
         lease + R"(
      limits: {shortest_run: 1s, shortest_rest: 200ms, longest_run: 60s, starts_per_hour: 60}
    - id: mat
      effect: heat
      rate: 15 W
      driver: mqtt_relay
      wiring: {topic: shed/tub-1/mat, run: "on", rest: "off"}
      safe: rest
      falls_by_itself_after: 60s
      limits: {shortest_run: 1s, shortest_rest: 200ms}
)";
}

class Service : public ::testing::Test {
 protected:
  void SetUp() override {
    if (kSanitized)
      GTEST_SKIP() << "not under a sanitizer: the unit's sandbox forbids what it does";
    if (const auto why = container::cannot_boot()) {
      GTEST_SKIP() << "no container boots on this machine, so the unit is not proven: " << *why;
    }
    box.install_tree();
    box.write("/etc/tubwarden/tubwarden.yaml", site_text(broker.url()));
    box.write("/etc/tubwarden/profiles/button.yaml", kProfile);
    box.write("/etc/tubwarden/tubs/tub-1.yaml", tub_text("15s"));
  }
  void drop_in(const std::string& lines, const std::string& name = "test.conf") {
    box.write("/etc/systemd/system/tubwarden.service.d/" + name, lines);
  }
  /// With cgroups of version 1 nothing tells a container's systemd that the last process of a unit
  /// has gone: now and then it waits for its own limit, 15 s, before the stop-post step. Version 2
  /// tells it, and the board's Debian 12 has that.
  void without_the_wait_of_cgroups_v1() {
    if (!std::filesystem::exists("/sys/fs/cgroup/cgroup.controllers")) {
      drop_in("[Service]\nTimeoutStopSec=1\n", "cgroups-v1.conf");
    }
  }
  void start() {
    box.boot();
    const parts::Ran ran = box.systemctl({"start", "tubwarden.service"});
    ASSERT_EQ(ran.status, 0) << ran.err << box.journal();
  }
  json status() {
    const parts::Ran ran = box.run({"tubwarden", "status", "--json"});
    return ran.status == 0 ? json::parse(ran.out) : json();
  }
  bool wait(const std::function<bool()>& sign, std::chrono::milliseconds limit = 15s) {
    return parts::wait_until(sign, limit);
  }
  bool active() { return box.property("ActiveState") == "active"; }

  /// The mister's changes: boot time in ns and level in permille.
  std::vector<std::pair<std::int64_t, int>> mister() {
    std::vector<std::pair<std::int64_t, int>> lines;
    std::ifstream in(box.outside("/var/lib/tubwarden/mister"));
    std::string id;
    for (std::pair<std::int64_t, int> line; in >> line.first >> id >> line.second;) {
      lines.push_back(line);
    }
    return lines;
  }
  bool misting() { return !mister().empty() && mister().back().second == 1000; }

  /// Both outputs run: the air is dry and the bed is cold.
  void run_outputs() {
    box.run({"tubwarden", "phase", "tub-1", "fruiting"});
    ASSERT_TRUE(wait([&] {
      parts::publish(broker, "shed/tub-1/air", R"({"rh":80})");
      parts::publish(broker, "shed/tub-1/bed", "14");
      return misting();
    })) << box.journal();
    ASSERT_TRUE(hears(0, "on")) << box.journal();
  }
  std::optional<parts::Heard> hears(std::size_t from, const std::string& payload) {
    return relay.wait_for(
        kMat, [&](const parts::Heard& h) { return h.payload == payload; }, 10s, from);
  }

  parts::Mosquitto broker;
  parts::Listener relay{broker.url(), {kMat}};
  container::Container box;
};

TEST_F(Service, IsReadyOnceItAnswersAndSaysHowItGoes) {
  drop_in("[Service]\nWatchdogSec=3\n");  // a turn each second, which tells the status
  start();
  // No waiting: systemctl returns when the daemon has told that it is ready.
  const json s = status();
  ASSERT_TRUE(s.is_object()) << "it was told ready before it answers\n" << box.journal();
  EXPECT_EQ(s["tubs"].size(), 1u);
  EXPECT_TRUE(active());
  ASSERT_TRUE(wait([&] {
    return box.property("StatusText").find("broker up") != std::string::npos;
  })) << box.property("StatusText");
  EXPECT_EQ(box.property("StatusText").substr(0, 17), "1 tub, broker up,");

  // What sysusers, tmpfiles and the unit make.
  const auto made = [&](const std::string& path) {
    std::string said = box.run({"stat", "--format", "%a %U %G", path}).out;
    return said.substr(0, said.find('\n'));
  };
  EXPECT_EQ(made("/etc/tubwarden"), "2775 root tubwarden");
  EXPECT_EQ(made("/var/lib/tubwarden"), "750 tubwarden tubwarden");
  EXPECT_EQ(made("/run/tubwarden"), "750 tubwarden tubwarden");
  EXPECT_EQ(made("/run/tubwarden/outputs.list"), "600 tubwarden tubwarden");
  EXPECT_EQ(made("/proc/" + box.property("MainPID")).substr(4), "tubwarden tubwarden");
}

TEST_F(Service, IsTriedAgainWithoutLimitUntilItCanStart) {
  box.write("/etc/tubwarden/tubwarden.yaml", "site: [");
  drop_in("[Service]\nRestartSec=50ms\n");
  box.boot();
  box.systemctl({"start", "--no-block", "tubwarden.service"});
  // A start limit, where there is one, is five in ten seconds.
  ASSERT_TRUE(wait([&] { return box.number("NRestarts") >= 8; })) << box.journal();
  EXPECT_EQ(box.property("ActiveState"), "activating") << "never active without being ready";
  EXPECT_NE(box.journal().find("no output was in use"), std::string::npos) << box.journal();
  box.write("/etc/tubwarden/tubwarden.yaml", site_text(broker.url()));
  EXPECT_TRUE(wait([&] { return active(); })) << box.journal();
}

TEST_F(Service, AFrozenDaemonIsEndedByTheWatchdogAndStartedAgain) {
  drop_in("[Service]\nWatchdogSec=2\nRestartSec=100ms\n");
  without_the_wait_of_cgroups_v1();
  start();
  run_outputs();
  const int first = box.number("MainPID");
  const auto healthy_until = parts::Steady::now() + 5s;
  ASSERT_TRUE(wait([&] { return parts::Steady::now() > healthy_until; }));
  ASSERT_EQ(box.number("MainPID"), first) << "while it turns, it is not ended\n" << box.journal();

  const auto frozen = parts::Steady::now();
  ASSERT_EQ(box.run({"kill", "-STOP", std::to_string(first)}).status, 0);
  ASSERT_TRUE(wait([&] { return active() && box.number("MainPID") != first; })) << box.journal();
  std::printf("frozen_to_active_again_ms %.0f (WatchdogSec 2 s)\n",
              std::chrono::duration<double, std::milli>(parts::Steady::now() - frozen).count());
  EXPECT_NE(box.journal().find("Watchdog timeout (limit 2s)"), std::string::npos) << box.journal();
  EXPECT_EQ(box.number("NRestarts"), 1);
  EXPECT_FALSE(misting()) << "and begins safe";
}

TEST_F(Service, ReloadAppliesAChangedFile) {
  // The tub's file leads elsewhere: the folder's watch does not see a change there for 30 s.
  box.write("/etc/elsewhere.yaml", tub_text("15s"));
  std::filesystem::remove(box.outside("/etc/tubwarden/tubs/tub-1.yaml"));
  std::filesystem::create_symlink("/etc/elsewhere.yaml",
                                  box.outside("/etc/tubwarden/tubs/tub-1.yaml"));
  start();
  const auto listed_lease = [&](const std::string& ms) {
    return box.run({"cat", "/run/tubwarden/outputs.list"}).out.find("\"lease_ms\":" + ms) !=
           std::string::npos;
  };
  ASSERT_FALSE(listed_lease("7000"));
  const int pid = box.number("MainPID");
  box.write("/etc/elsewhere.yaml", tub_text("7s"));
  const parts::Ran ran = box.systemctl({"reload", "tubwarden.service"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_TRUE(wait([&] { return listed_lease("7000"); }, 5s)) << box.journal();
  EXPECT_TRUE(wait([&] { return active(); }, 5s)) << box.property("ActiveState");
  EXPECT_EQ(box.number("MainPID"), pid);
}

TEST_F(Service, KilledAtOnceWithAllItsHostsItsOutputsAreMadeSafeWithinTwoSeconds) {
  without_the_wait_of_cgroups_v1();
  start();
  run_outputs();
  const std::size_t before = mister().size();
  const std::size_t heard = relay.heard(kMat).size();
  const std::int64_t killed = boot_ns();
  const auto killed_at = parts::Steady::now();
  ASSERT_EQ(box.systemctl({"kill", "--signal=KILL", "tubwarden.service"}).status, 0);
  ASSERT_TRUE(wait([&] { return mister().size() > before; })) << box.journal();
  const auto safe = mister()[before];
  EXPECT_EQ(safe.second, 0);
  const double took_ms = static_cast<double>(safe.first - killed) / 1e6;
  std::printf("unit_killed_to_safe_ms %.1f\n", took_ms);
  EXPECT_LT(took_ms, 2000) << "and not by the next start, which comes 2 s after";
  const auto off = hears(heard, "off");
  ASSERT_TRUE(off);
  EXPECT_LT(off->at - killed_at, 2s);
  ASSERT_TRUE(wait([&] {
    return box.journal().find("stop-post: 2 of 2 outputs made safe") != std::string::npos;
  })) << box.journal();
  EXPECT_TRUE(wait([&] { return active(); })) << "it is started again\n" << box.journal();
}

TEST_F(Service, WithoutTheStopPostStepTheyWouldGoOnRunning) {
  drop_in("[Service]\nExecStopPost=\nRestart=no\n");
  start();
  run_outputs();
  const std::size_t before = mister().size();
  ASSERT_EQ(box.systemctl({"kill", "--signal=KILL", "tubwarden.service"}).status, 0);
  ASSERT_TRUE(wait([&] { return box.property("ActiveState") == "failed"; }));
  EXPECT_EQ(mister().size(), before) << "nobody was left to switch it";
  EXPECT_TRUE(misting());
}

TEST_F(Service, AStopInGoodOrderLeavesNothingToDo) {
  start();
  run_outputs();
  const parts::Ran ran = box.systemctl({"stop", "tubwarden.service"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_FALSE(misting());
  EXPECT_EQ(box.property("Result"), "success") << box.journal();
  EXPECT_NE(box.journal().find("stop-post: 0 of 0 outputs made safe"), std::string::npos)
      << box.journal();
  EXPECT_NE(box.run({"test", "-e", "/run/tubwarden"}).status, 0) << "the runtime folder is gone";
}

}  // namespace
