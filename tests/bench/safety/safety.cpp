// How soon an output is safe when daemon or host is killed, how exact a timed run is, and what a
// host costs in memory; each beside its floor. bench_safety FOLDER [--kills N] [--pulses N]
#include <fmt/format.h>
#include <signal.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "bench/safety/measures.hpp"
#include "system/daemon/rig.hpp"

namespace {

using namespace std::chrono_literals;

const std::string kMister = "shed/tub-1/mister";
constexpr double kLeaseS = 3.0;  ///< of the rig's outputs

bool is_run(const parts::Heard& h) { return h.payload == "1"; }
bool is_rest(const parts::Heard& h) { return h.payload == "0"; }

/// The real daemon, a mister behind a real broker, and a listener in the relay's place.
class Kills {
 public:
  Kills() {
    rig_.write_tub({});
    rig_.start();
    rig_.cli({"phase", "tub-1", "fruiting"});
    relay_ =
        std::make_unique<parts::Listener>(rig_.broker().url(), std::vector<std::string>{kMister});
  }
  Kills(const Kills&) = delete;
  Kills& operator=(const Kills&) = delete;

  void kill_daemon() {
    run();
    const auto killed = now();
    rig_.daemon().signal(SIGKILL);
    hear_rest(killed);
    rig_.daemon().wait(10s);
    rig_.start();
  }
  void kill_host() {
    run();
    const auto hosts = rig_.daemon().children("mqtt_relay");
    if (hosts.empty()) throw std::runtime_error("there is no host:\n" + rig_.log());
    const auto killed = now();
    ::kill(hosts.front(), SIGKILL);
    hear_rest(killed);
    back_from_a_crash();
  }

  const std::vector<double>& seconds() const { return seconds_; }
  int left_running() const { return left_running_; }

 private:
  static parts::Steady::time_point now() { return parts::Steady::now(); }

  /// The reading alternates, so that each is a new one. An output that is back may run already.
  void run() {
    rh_ = rh_ > 79.5 ? 79.0 : 80.0;
    rig_.air("tub-1", rh_);
    const auto runs = [this] {
      const auto all = relay_->heard(kMister);
      return !all.empty() && is_run(all.back());
    };
    if (rig_.wait(runs, 20s)) return;
    throw std::runtime_error("the mister did not run:\n" + rig_.log());
  }
  void hear_rest(parts::Steady::time_point killed) {
    const auto all = relay_->heard(kMister);
    std::size_t n = all.size();
    while (n > 0 && all[n - 1].at >= killed) --n;
    const auto rest = relay_->wait_for(kMister, is_rest, 10s, n);
    left_running_ += rest ? 0 : 1;
    if (rest) seconds_.push_back(std::chrono::duration<double>(rest->at - killed).count());
  }
  void back_from_a_crash() {
    std::string health;
    const bool back = rig_.wait(
        [&] {
          health = rig_.actuator("tub-1", "mister")["health"];
          return rig_.daemon().children("mqtt_relay").size() == 1 && health == "ready";
        },
        3s);
    if (back) return;
    rig_.cli({"outputs", "release", "tub-1", "mister"});  // three crashes: it stays down
    rig_.cli({"outputs", "release", "tub-1", "mat"});
    if (rig_.wait([&] { return rig_.actuator("tub-1", "mister")["health"] == "ready"; }, 20s))
      return;
    throw std::runtime_error("the host did not come back:\n" + rig_.log());
  }

  rig::Rig rig_;
  std::unique_ptr<parts::Listener> relay_;
  double rh_ = 0.0;
  std::vector<double> seconds_;
  int left_running_ = 0;
};

int report(const char* who, const Kills& kills) {
  std::vector<double> s = kills.seconds();
  std::sort(s.begin(), s.end());
  if (s.empty()) return kills.left_running();
  fmt::print("# {}: {} kills while its output ran, median {:.4f} s, lease {} s\n", who, s.size(),
             s[s.size() / 2], kLeaseS);
  fmt::print("safe_after_kill_s.{} {:.4f} s\n", who, s.back());
  return kills.left_running();
}

}  // namespace

int main(int argc, char** argv) {
  std::string folder;
  int kills = 50, pulses = 100;
  CLI::App app{"How safe outputs are, measured."};
  app.add_option("folder", folder, "An empty folder for the files")->required();
  app.add_option("--kills", kills, "Of the daemon, and of the host")->check(CLI::Range(0, 50));
  app.add_option("--pulses", pulses, "Of each driver")->check(CLI::Range(1, 10000));
  CLI11_PARSE(app, argc, argv);
  try {
    int left = 0;
    {
      Kills daemon;
      for (int i = 0; i < kills; ++i) daemon.kill_daemon();
      left += report("daemon", daemon);
    }
    {
      Kills host;
      for (int i = 0; i < kills; ++i) host.kill_host();
      left += report("host", host);
    }
    fmt::print("safe_after_kill_s_lease {:.1f} s\n", kLeaseS);
    fmt::print("outputs_left_running {} outputs\n", left);
    bench::pulse_errors(folder, pulses);
    bench::private_dirty(folder);
    return left == 0 ? 0 : 1;
  } catch (const std::exception& error) {
    fmt::print(stderr, "bench_safety: {}\n", error.what());
    return 1;
  }
}
