// Plays a scene on real processes: HostDrivers in a process of its own, its hosts, a broker behind
// a gate, and what each output's wire heard. Threading: the test's thread; the gate has one of its
// own. Failure: throws when its parts cannot be started; what goes wrong in a scene is in Played.
#pragma once

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "fault/campaign/plan.hpp"
#include "parts/parts.hpp"
#include "system/broker/gate.hpp"

namespace tubwarden::campaign {

/// What was done, by the boot clock; `until_ns`: when it was undone, or over.
struct Did {
  Act act = Act::run;
  std::vector<std::string> outputs;  ///< that it concerns
  std::int64_t from_ns = 0, until_ns = 0;
  milliseconds length{0};
};

struct Change {
  std::int64_t ns = 0;
  bool runs = false;
};

struct Played {
  std::vector<Did> done;
  std::map<std::string, std::vector<Change>> wire;  ///< by output
  std::vector<std::string> wrong;                   ///< that no wire tells
  std::int64_t over_ns = 0;                         ///< nothing of the scene is left from here on
};

/// What all scenes share: a second Paho client in one process takes 2 s to connect.
class Stage {
 public:
  Stage();
  ~Stage();
  Played play(const Scene& scene);

 private:
  class Play;
  parts::Mosquitto broker_;
  parts::Listener relay_;
  boost::asio::io_context loop_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_;
  std::unique_ptr<Gate> gate_;
  std::thread turning_;
};

}  // namespace tubwarden::campaign
