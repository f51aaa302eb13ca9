// The inside of HostDrivers: groups of outputs that share a host, and what is known of each output.
// Threading: the loop's thread. Failure: see host_drivers.hpp.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cstdint>
#include <functional>
#include <list>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "core/output/confirmation.hpp"
#include "core/output/restart_policy.hpp"
#include "sdk/protocol.hpp"
#include "shell/hosts/host_drivers.hpp"
#include "shell/hosts/host_process.hpp"

namespace tubwarden {

/// CLOCK_BOOTTIME, as the hosts read it.
Instant host_clock_now();

struct DriverOutput {
  OutputPlan plan;
  std::uint32_t number = 0;
  bool opening = false;  ///< open was sent and is not answered
  bool opened = false;
  bool leaving = false;  ///< not wanted (so) any more: being made safe and closed
  bool confirms = false;
  bool reachable = true;
  bool unsafe = false;
  bool refused = false;  ///< its wiring is wrong: no use to try again
  bool unattended =
      false;             ///< its host crashed while it was open, and nobody has made it safe since
  RestartPolicy policy;  ///< of its own failures, apart from its host's crashes
  std::optional<Instant> reopen_at;
  Instant leave_deadline{};
  bool on_loan = false;
  std::uint64_t sequence = 0;
  Instant renewed{};
  Confirmation word;
  std::string why;
  std::optional<OutputReport> reported;
};

struct DriverGroup {
  std::string key;
  std::string plugin;
  std::shared_ptr<HostProcess> process;
  std::map<std::uint32_t, DriverOutput> outputs;
  RestartPolicy policy;
  bool refused = false;  ///< its plugin cannot be loaded
  bool hanging_up = false;
  bool killed = false;
  std::uint64_t restarts = 0;
  std::vector<HostLimit> limits;  ///< of this process, once it has told them
  std::optional<Instant> restart_at;
  std::string why;
};

struct HostDrivers::Impl {
  Impl(boost::asio::io_context& loop_in, HostOptions options_in);

  // drivers_groups.cpp: which processes and outputs there are
  void reconcile();
  void leave_unwanted();
  void join_wanted();
  void join(DriverGroup& group, const std::vector<std::uint32_t>& numbers);
  void start_group(DriverGroup& group);
  /// False: it is open, on its way, or no use to try.
  bool may_be_opened(DriverOutput& output) const;
  void send_opens(DriverGroup& group, std::vector<DriverOutput*> outputs);
  /// `more`: another is sent at once.
  void send_open(DriverGroup& group, DriverOutput& output, bool more = false);
  void leave(DriverGroup& group, DriverOutput& output);
  void group_ended(const std::string& key, const HostEnding& ending);
  void crashed(DriverGroup& group, const HostEnding& ending);
  void refuse(DriverGroup& group, const std::string& why);
  void make_safe_by_new_process(const std::string& plugin, std::vector<protocol::Open> outputs);
  void safe_run_ended(std::uint64_t id, const HostEnding& ending);
  void finish_stop_if_over();
  /// While a safe-run holds a plugin's outputs, no host of that plugin may open them.
  bool safe_run_of(const std::string& plugin) const;
  /// Runs `work` on the loop's next turn, unless this is gone by then.
  void later(std::function<void()> work);

  // drivers_words.cpp: what hosts say
  void heard(const std::string& key, const protocol::ToDaemon& message);
  void heard(DriverGroup& group, const protocol::Opened& m);
  void heard(DriverGroup& group, const protocol::Closed& m);
  void heard(DriverGroup& group, const protocol::Confirm& m);
  void heard(DriverGroup& group, const protocol::Reach& m);
  void heard(DriverGroup& group, const protocol::Fell& m);
  void heard(DriverGroup& group, const protocol::Said& m);
  void heard(DriverGroup& group, const protocol::Failed& m);
  void heard(DriverGroup& group, const protocol::Delivered& m);
  void heard(DriverGroup& group, const protocol::Held& m);
  void output_failed(DriverGroup& group, DriverOutput& output, const protocol::Failed& m);
  OutputHealth health(const DriverGroup& group, const DriverOutput& output) const;
  void report_on(const DriverGroup& group, DriverOutput& output);
  void report_all(DriverGroup& group);
  void say(HostWord word, const std::string& text) const;

  // drivers_list.cpp: the stop-post step's list
  /// Everything that is open, being made safe, or about to be opened; before it is.
  void keep_list();
  void write_list(const std::string& text);
  protocol::Open listed(const OutputPlan& plan) const;

  // host_drivers.cpp: time
  void tick();
  void tick_group(DriverGroup& group, Instant now);
  void end_if_still(DriverGroup& group);
  /// How long a host may take nothing of what was sent; zero: nothing of it is on loan.
  static Duration stillness_max(const DriverGroup& group);
  void schedule();
  /// While stopping: what was killed stands in the kernel, and is left there.
  void give_up();
  std::optional<Instant> next_wake() const;
  DriverGroup* group_of(const OutputId& id, DriverOutput** output);
  protocol::Open open_message(const DriverOutput& output) const;
  std::string plugin_path(const std::string& plugin) const;

  boost::asio::io_context& loop;
  HostOptions options;
  boost::asio::steady_timer timer;
  std::function<void(const OutputReport&)> report;
  std::map<std::string, DriverGroup> groups;
  std::vector<OutputPlan> wanted;
  struct SafeRun {
    std::string plugin;
    protocol::SafeRun spec;
    std::shared_ptr<HostProcess> process;
    std::vector<std::pair<std::uint32_t, OutputId>> outputs;
  };
  std::map<std::uint64_t, SafeRun> safe_runs;
  std::uint64_t next_safe_run = 1;
  std::uint32_t next_output = 1;
  std::uint64_t sequence = 0;
  std::uint64_t dropped_commands = 0;
  std::string list_written;  ///< as the file holds it
  bool stopping = false;
  bool left_unsafe = false;  ///< while stopping: something could not be made safe
  std::optional<Instant> kill_at, give_up_at;
  std::function<void()> stopped;
  /// Held by nobody else: work that the loop does later looks whether it still is there.
  std::shared_ptr<const int> alive = std::make_shared<const int>(0);
};

}  // namespace tubwarden
