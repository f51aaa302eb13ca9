#include "bench/safety/measures.hpp"

#include <fmt/format.h>
#include <time.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <vector>

#include "system/hosts/bench.hpp"

namespace bench {

using namespace tubwarden;
using namespace tubwarden::bench;
namespace fs = std::filesystem;

namespace {

constexpr const char* kTopic = "cellar/pulse";
constexpr const char* kRelay = R"({"topic":"cellar/pulse","run":"1","rest":"0"})";

milliseconds length_of(int i) { return milliseconds(50 + 61 * i % 301); }

void must(bool done, const char* what) {
  if (!done) throw std::runtime_error(what);
}

void print_errors(const std::string& name, std::vector<double> ms) {
  std::sort(ms.begin(), ms.end(), [](double a, double b) { return std::abs(a) < std::abs(b); });
  const auto at = [&](double share) {
    return ms[static_cast<std::size_t>(share * static_cast<double>(ms.size() - 1))];
  };
  fmt::print("pulse_error_ms.{}.median {:.3f} ms\n", name, at(0.5));
  fmt::print("pulse_error_ms.{}.p99 {:.3f} ms\n", name, at(0.99));
  fmt::print("pulse_error_ms.{}.max {:.3f} ms\n", name, ms.back());
}

void simulated_pulses(const fs::path& folder, int pulses) {
  const fs::path file = folder / "pulses";
  Bench b;
  b.drivers.want({plan("pulse", "simulated", file_wiring(file), seconds(15))});
  must(b.until_health("pulse", OutputHealth::ready), "simulated is not ready");
  std::vector<double> errors;
  for (int i = 0; i < pulses; ++i) {
    const std::size_t before = simulated_lines(file).size();
    b.command("pulse", kRun, length_of(i));
    must(b.until([&] { return simulated_lines(file).size() == before + 2; }),
         "a pulse did not end");
    const auto lines = simulated_lines(file);
    const Duration ran(lines[before + 1].ns - lines[before].ns);
    errors.push_back(1000.0 * seconds_of(ran - length_of(i)));
  }
  print_errors("simulated", errors);
}

void relay_pulses(int pulses) {
  parts::Mosquitto broker;
  parts::Listener listener(broker.url(), {kTopic});
  Bench b(kPlugins, site(broker.url()));
  OutputPlan relay = plan("pulse", "mqtt_relay", kRelay, seconds(15));
  relay.network = true;
  b.drivers.want({relay});
  must(b.until_health("pulse", OutputHealth::ready), "mqtt_relay is not ready");
  must(b.until([&] { return !listener.heard(kTopic).empty(); }), "nothing is heard");
  std::vector<double> errors;
  for (int i = 0; i < pulses; ++i) {
    const std::size_t before = listener.heard(kTopic).size();
    b.command("pulse", kRun, length_of(i));
    must(b.until([&] { return listener.heard(kTopic).size() == before + 2; }), "a pulse is lost");
    const auto heard = listener.heard(kTopic);
    const Duration ran = heard[before + 1].at - heard[before].at;
    errors.push_back(1000.0 * seconds_of(ran - length_of(i)));
  }
  print_errors("mqtt_relay", errors);
}

void bare_sleeps(int pulses) {
  std::vector<double> errors;
  for (int i = 0; i < pulses; ++i) {
    const auto began = std::chrono::steady_clock::now();
    const timespec length{0, duration_cast<std::chrono::nanoseconds>(length_of(i)).count()};
    ::clock_nanosleep(CLOCK_BOOTTIME, 0, &length, nullptr);
    const Duration took = std::chrono::steady_clock::now() - began;
    errors.push_back(1000.0 * seconds_of(took - length_of(i)));
  }
  print_errors("floor", errors);
}

double private_dirty_mb(int pid) {
  std::ifstream file(fmt::format("/proc/{}/smaps_rollup", pid));
  double kib = 0.0;
  for (std::string word; file >> word;) {
    if (word == "Private_Dirty:" && file >> kib) return kib / 1024.0;
  }
  throw std::runtime_error(fmt::format("process {} tells no Private_Dirty", pid));
}

}  // namespace

void pulse_errors(const fs::path& folder, int pulses) {
  fmt::print(
      "# timed runs of 50 to 350 ms, {} of each; simulated: by the boot clock in its file; "
      "mqtt_relay: as a subscriber hears them (run QoS 0, rest QoS 1); floor: a bare sleep; "
      "load {}\n",
      pulses, parts::read_file("/proc/loadavg").substr(0, 4));
  bare_sleeps(pulses);
  simulated_pulses(folder, pulses);
  relay_pulses(pulses);
}

void private_dirty(const fs::path& folder) {
  fmt::print(
      "# one output open and switched once; floor: a process that has loaded the plugin and "
      "its libraries, and waits\n");
  parts::Mosquitto broker;
  Bench b(kPlugins, site(broker.url()));
  OutputPlan relay = plan("mqtt_relay", "mqtt_relay", kRelay, seconds(15));
  relay.network = true;
  b.drivers.want({plan("simulated", "simulated", file_wiring(folder / "memory"), seconds(15)),
                  relay, plan("program", "program", R"({"argv":["/bin/true"]})", seconds(15)),
                  plan("modbus_coil", "modbus_coil",
                       R"({"host":"127.0.0.1","port":"1","coil":"0"})", seconds(15))});
  for (const std::string name : {"simulated", "mqtt_relay", "program", "modbus_coil"}) {
    if (name != "modbus_coil") {  // it has no device here: it tries in vain, which costs the same
      must(b.until_health(name, OutputHealth::ready), "a host is not ready");
      b.command(name, kRun, milliseconds(50));
    }
    must(b.until([&] { return b.pid(name) != 0; }), "there is no host");
    const auto settled = std::chrono::steady_clock::now() + 1s;
    b.until([&] { return std::chrono::steady_clock::now() > settled; });
    fmt::print("host_private_dirty_mb.{} {:.2f} MB\n", name, private_dirty_mb(b.pid(name)));
    parts::Process empty({BENCH_EMPTY, kPlugins + "/" + name + ".so"});
    must(parts::wait_until([&] { return !empty.out().empty(); }, 10s), "the floor does not load");
    fmt::print("host_private_dirty_mb.{}.floor {:.2f} MB\n", name, private_dirty_mb(empty.pid()));
  }
}

}  // namespace bench
