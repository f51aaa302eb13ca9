// A whole Tubwarden on real parts: a private mosquitto, a configuration folder, tubwardend, the
// command line, and a listener that hears what a relay would hear. Threading: the test's thread.
// Failure: throws with the daemon's log, so that a test says why.
#pragma once

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "parts/parts.hpp"

namespace rig {

using namespace std::chrono_literals;
using nlohmann::json;

/// What of the test tub a test may change.
struct TubText {
  std::string id = "tub-1";
  std::string batch = "B-01";
  std::string phase = "fruiting";
  std::string shortest_run = "2s";
  std::string shortest_rest = "200ms";
  std::string extra;  ///< further lines of the file, at the top level
};

class Rig {
 public:
  Rig();
  ~Rig();

  parts::Mosquitto& broker() { return *broker_; }
  parts::TempFolder& folder() { return folder_; }
  std::string config(const std::string& name) const { return "config/" + name; }

  void write_site(const std::string& extra = "");
  void write_profile(const std::string& text = default_profile());
  void write_tub(const TubText& tub) {
    folder_.write(config("tubs/" + tub.id + ".yaml"), text_of(tub));
  }
  static std::string default_profile();
  static std::string text_of(const TubText& tub);

  /// "NAME=value", for the daemon's next start.
  std::vector<std::string> environment;
  /// Words before the daemon's own: a program that starts it in another way.
  std::vector<std::string> started_by;
  /// Starts the daemon and waits until it answers and has its outputs ready.
  void start();
  void start_without_waiting();
  /// SIGTERM, and waits for the end.
  int stop();
  parts::Process& daemon() { return *daemon_; }

  parts::Ran cli(std::vector<std::string> words);
  /// `tubwarden --json ...`, which must succeed.
  json ask(std::vector<std::string> words);
  json status() { return ask({"status"}); }
  std::optional<json> try_status();
  json chamber(const std::string& id);
  json tub(const std::string& id);
  /// The named actuator of a chamber, as status shows it.
  json actuator(const std::string& chamber, const std::string& id);
  std::vector<std::string> alert_causes(const std::string& place);
  json timeline(const std::string& batch);

  /// Publishes a tub's air and waits until the daemon has taken it.
  void air(const std::string& tub, double rh, double t = 17.0);
  void publish(const std::string& topic, const std::string& payload, bool retain = false) {
    parts::publish(*broker_, topic, payload, retain);
  }
  bool wait(const std::function<bool()>& sign, std::chrono::milliseconds limit = 10s) {
    return parts::wait_until(sign, limit);
  }
  std::string log() const;

 private:
  parts::TempFolder folder_;
  std::unique_ptr<parts::Mosquitto> broker_;
  std::unique_ptr<parts::Process> daemon_;
  std::string socket_;
};

/// The payloads heard on a topic, in order.
std::vector<std::string> payloads(const parts::Listener& listener, const std::string& topic);

}  // namespace rig
