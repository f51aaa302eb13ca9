// A scene of the fault campaign, drawn from a seed: which outputs there are, what they are told,
// and what breaks when, one over another. Threading: pure functions. Failure: none.
#pragma once

#include <chrono>
#include <cstdint>
#include <string>
#include <vector>

namespace tubwarden::campaign {

using std::chrono::milliseconds;

struct Output {
  std::string id;
  std::string driver;
  bool own = true;  ///< a host of its own
  milliseconds lease{900};
  bool is_relay() const { return driver == "mqtt_relay"; }
};

enum class Act {
  run,          ///< an output, for `length` or until it is told otherwise (0)
  rest,         ///< an output
  kill_host,    ///< SIGKILL to an output's host
  stop_host,    ///< SIGSTOP, and SIGCONT after `length`
  stop_daemon,  ///< likewise, the daemon's side
  kill_daemon,
  kill_all,  ///< daemon and hosts at once, so that none sees another's end; then the stop-post step
  cut_broker,  ///< every connection to it, without a word
  end          ///< the daemon is asked to end
};

struct Step {
  milliseconds at{0};
  Act act = Act::run;
  std::string output;      ///< of run, rest, kill_host, stop_host
  milliseconds length{0};  ///< of run, stop_host, stop_daemon
};

struct Scene {
  std::uint64_t seed = 0;
  std::vector<Output> outputs;
  std::vector<Step> steps;  ///< in the order of their time; the last one ends the daemon somehow
};

Scene draw(std::uint64_t seed);
const char* name_of(Act act);
/// A line an output and a step, to be read by who looks for the cause.
std::string told(const Scene& scene);

}  // namespace tubwarden::campaign
