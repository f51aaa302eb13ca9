// HostDrivers on a loop of the test's own, with real host processes, and what they left behind.
// Threading: the test's. Failure: until() returns false when the sign does not come.
#pragma once

#include <boost/asio/io_context.hpp>
#include <chrono>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>
#include <vector>

#include "parts/parts.hpp"
#include "shell/hosts/host_drivers.hpp"

namespace tubwarden::bench {

using namespace std::chrono_literals;

inline const std::string kHost = TUBWARDEN_BIN_DIR "/tubwarden-plugin-host";
inline const std::string kPlugins = TUBWARDEN_PLUGIN_DIR;
inline const std::string kFaulty = FAULTY_DIR;

inline OutputPlan plan(const std::string& actuator, const std::string& driver,
                       const std::string& wiring, Duration lease = milliseconds(3000),
                       Level safe = kRest) {
  OutputPlan result;
  result.id = {"tub", actuator};
  result.driver = driver;
  result.wiring_json = wiring;
  result.lease = lease;
  result.safe = safe;
  return result;
}

inline std::string file_wiring(const std::filesystem::path& file) {
  return R"({"file":")" + file.string() + R"("})";
}

inline std::string site(const std::string& url, const std::string& more = "") {
  return R"({"site":"cellar","broker":{"url":")" + url + "\"" + more + "}}";
}

/// A line of the simulated driver ("boot_ns output level") or a faulty one ("boot_ns pid call
/// level").
struct Line {
  std::int64_t ns = 0;
  std::string who, call;
  unsigned level = 0;
};

inline std::vector<Line> simulated_lines(const std::filesystem::path& file) {
  std::vector<Line> lines;
  std::ifstream in(file);
  Line line;
  while (in >> line.ns >> line.who >> line.level) lines.push_back(line);
  return lines;
}

inline std::vector<Line> faulty_lines(const std::filesystem::path& file) {
  std::vector<Line> lines;
  std::ifstream in(file);
  Line line;
  while (in >> line.ns >> line.who >> line.call >> line.level) lines.push_back(line);
  return lines;
}

class Bench {
 public:
  explicit Bench(const std::string& plugins = kPlugins, const std::string& site = "{}",
                 const std::string& safe_list = "", const HostLimits& limits = {})
      : drivers(loop, {kHost, plugins, site,
                       [this](HostWord, std::string_view text) { words.emplace_back(text); },
                       safe_list, limits}) {
    drivers.start([this](const OutputReport& report) { reports.push_back(report); });
  }
  ~Bench() {
    if (!stopped) stop();
  }

  /// Turns the loop until `sign` holds.
  bool until(const std::function<bool()>& sign, std::chrono::milliseconds limit = 10s) {
    const auto end = std::chrono::steady_clock::now() + limit;
    while (!sign()) {
      if (std::chrono::steady_clock::now() > end) return false;
      loop.restart();
      loop.run_for(2ms);
    }
    return true;
  }
  bool until_health(const std::string& actuator, OutputHealth health,
                    std::chrono::milliseconds limit = 10s) {
    return until([&] { return this->health(actuator) == health; }, limit);
  }
  OutputHealth health(const std::string& actuator) const {
    for (const HostView& host : drivers.hosts()) {
      if (host.id.actuator == actuator) return host.health;
    }
    return OutputHealth::starting;
  }
  int pid(const std::string& actuator) const {
    for (const HostView& host : drivers.hosts()) {
      if (host.id.actuator == actuator) return host.pid;
    }
    return 0;
  }
  std::string last_why(const std::string& actuator) const {
    std::string why;
    for (const OutputReport& report : reports) {
      if (report.id.actuator == actuator) why = report.why;
    }
    return why;
  }
  void command(const std::string& actuator, Level level, Duration run = Duration{0}) {
    drivers.command({"tub", actuator}, level, run);
  }
  bool stop() {
    drivers.stop([this] { stopped = true; });
    return until([this] { return stopped; }, 20s);
  }
  bool said(const std::string& piece) const {
    for (const std::string& word : words) {
      if (word.find(piece) != std::string::npos) return true;
    }
    return false;
  }

  boost::asio::io_context loop;
  std::vector<OutputReport> reports;
  std::vector<std::string> words;
  bool stopped = false;
  HostDrivers drivers;
};

}  // namespace tubwarden::bench
