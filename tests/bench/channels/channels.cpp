// What a channel's host holds of memory for itself after it has delivered over TLS: libcurl,
// OpenSSL and a list of certificates are why they stay out of the daemon.
#include <fmt/core.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "parts/parts.hpp"
#include "shell/hosts/host_channels.hpp"

namespace {

using namespace tubwarden;
using namespace std::chrono_literals;

const std::string kPlugins = TUBWARDEN_PLUGIN_DIR;

void must(bool holds, const std::string& what) {
  if (!holds) throw std::runtime_error(what);
}

/// Kept for itself, not shared with another process that has the same libraries.
double dirty_mb(int pid) {
  std::ifstream file(fmt::format("/proc/{}/smaps_rollup", pid));
  double kib = 0.0;
  for (std::string word; file >> word;) {
    if (word == "Private_Dirty:" && file >> kib) return kib / 1024.0;
  }
  throw std::runtime_error(fmt::format("process {} tells no Private_Dirty", pid));
}

void make_certificate(const std::filesystem::path& folder) {
  must(
      parts::run({"openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
                  "-nodes", "-subj", "/CN=here", "-addext", "subjectAltName=IP:127.0.0.1",
                  "-keyout", (folder / "key").string(), "-out", (folder / "pem").string()})
              .status == 0,
      "openssl");
}

int host_of(const std::string& plugin) {
  for (const auto& entry : std::filesystem::directory_iterator("/proc")) {
    const std::string name = entry.path().filename().string();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    const std::string line = parts::read_file(entry.path() / "cmdline");
    std::ifstream stat(entry.path() / "stat");
    std::string word;
    for (int field = 0; field < 4; ++field) stat >> word;  // the fourth is the parent
    const bool ours = word == std::to_string(::getpid());
    if (ours && line.find("/" + plugin + ".so") != std::string::npos) return std::stoi(name);
  }
  throw std::runtime_error("there is no host of " + plugin);
}

void measure(const std::string& plugin, const std::string& wiring, const std::string& site) {
  boost::asio::io_context loop;
  std::string outcome;
  HostChannels channels(loop, {TUBWARDEN_BIN_DIR "/tubwarden-plugin-host", kPlugins, site,
                               [](HostWord, std::string_view) {}});
  channels.start([&](const Delivery& d) {
    const bool delivered = d.outcome == Delivery::Outcome::delivered;
    const std::string& why = d.why;
    outcome = delivered ? "delivered" : why;
  });
  channels.want({{"it", plugin, wiring, {}}});
  channels.deliver({"key", AlertRank::now, "tub-1: humidity low", "Since 10:03."});
  const auto turn_until = [&](const std::function<bool()>& sign) {
    const auto end = parts::Steady::now() + 20s;
    while (!sign() && parts::Steady::now() < end) {
      loop.restart();
      loop.run_for(2ms);
    }
  };
  turn_until([&] { return !outcome.empty(); });
  must(outcome == "delivered", plugin + ": " + outcome);
  fmt::print("host_private_dirty_mb.{} {:.2f} MB\n", plugin, dirty_mb(host_of(plugin)));
  parts::Process floor({BENCH_EMPTY, kPlugins + "/" + plugin + ".so"});
  must(parts::wait_until([&] { return !floor.out().empty(); }, 10s), "the floor does not load");
  fmt::print("host_private_dirty_mb.{}.floor {:.2f} MB\n", plugin, dirty_mb(floor.pid()));
  bool stopped = false;
  channels.stop([&] { stopped = true; });
  turn_until([&] { return stopped; });
}

}  // namespace

int main() {
  try {
    const parts::TempFolder folder;
    make_certificate(folder.path());
    const std::string pem = (folder.path() / "pem").string();
    const parts::Process web({"/usr/bin/python3", BENCH_WEB, (folder.path() / "journal").string(),
                              pem, (folder.path() / "key").string()});
    must(parts::wait_until([&] { return web.out().find('\n') != std::string::npos; }, 20s),
         "no web server");
    std::string port;
    std::istringstream(web.out()) >> port >> port;
    fmt::print(
        "# one message delivered: webhook over https, mqtt_note in the clear; floor: a process "
        "that "
        "has loaded the plugin and its libraries, and waits\n");
    measure("webhook", R"({"url":"https://127.0.0.1:)" + port + R"(/","ca_file":")" + pem + R"("})",
            "{}");
    const parts::Mosquitto broker;
    measure("mqtt_note", R"({"topic":"a/b"})", R"({"broker":{"url":")" + broker.url() + R"("}})");
  } catch (const std::exception& e) {
    fmt::print(stderr, "bench_channels: {}\n", e.what());
    return 1;
  }
  return 0;
}
