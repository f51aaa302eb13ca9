// One plugin host as a child process: its socket, its share of the CPU, its end, its exit code.
// Threading: the loop's thread. Failure: start() returns an Error; a lost packet makes send()
// false.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "sdk/protocol.hpp"
#include "shell/hosts/host_options.hpp"

namespace tubwarden {

/// How a host ended.
struct HostEnding {
  int code = 0;  ///< exit code, or the signal's number
  bool by_signal = false;
  bool safe_run_left = false;  ///< its safe-run still holds the socket: it did not end in time
  bool clean() const { return !by_signal && code == protocol::kExitDone && !safe_run_left; }
  std::string words() const;  ///< "was ended by signal 9 (Killed)"
};

/// Ends when the process has ended *and* nobody holds the other end of its socket any more: a
/// safe-run that a hanging host started inherits it.
class HostProcess : public std::enable_shared_from_this<HostProcess> {
 public:
  struct Handlers {
    std::function<void(const protocol::ToDaemon&)> message;
    std::function<void(const HostEnding&)> ended;  ///< once, the last call
  };

  static Result<std::shared_ptr<HostProcess>> serve(boost::asio::io_context& loop,
                                                    const std::string& program,
                                                    const std::string& plugin_path,
                                                    const HostLimits& limits, Handlers handlers);
  /// A process that makes these outputs safe and ends by itself.
  static Result<std::shared_ptr<HostProcess>> safe_run(boost::asio::io_context& loop,
                                                       const std::string& program,
                                                       const protocol::SafeRun& spec,
                                                       Handlers handlers);
  /// Closes the socket; the process then makes all safe and ends. The loop's base class reaps it
  /// not.
  ~HostProcess();
  HostProcess(const HostProcess&) = delete;
  HostProcess& operator=(const HostProcess&) = delete;

  bool send(const protocol::ToHost& message);
  /// How long it has taken nothing of what lies before it; zero when nothing does. One that stands
  /// still (stopped, frozen) minds no lease, and only this shows it. Not counted: a board asleep.
  Duration unread_for();
  /// No more packets from here: the host makes all safe and ends; its last words still arrive.
  void hang_up();
  void kill();
  int pid() const { return pid_; }

 private:
  HostProcess(boost::asio::io_context& loop, int socket, int pid, Handlers handlers);
  static Result<std::shared_ptr<HostProcess>> spawn(boost::asio::io_context& loop,
                                                    const std::string& program,
                                                    std::vector<std::string> words, int spec,
                                                    Handlers handlers);
  void listen();
  void read_some();
  void watch_end();
  void wait_for_safe_run();
  /// From now on it may use one window's share more than it has used. The kernel ends one that uses
  /// more, whatever this process does meanwhile.
  void grant_cpu();
  void await_window();
  void end_if_over();
  void note_reading();

  boost::asio::posix::stream_descriptor socket_;
  boost::asio::posix::stream_descriptor pidfd_;
  boost::asio::steady_timer patience_;
  boost::asio::steady_timer window_;
  HostLimits limits_;
  int pid_;
  Handlers handlers_;
  bool socket_over_ = false;
  bool process_over_ = false;
  HostEnding ending_;
  std::string packet_;
  int unread_ = 0;  ///< of what was sent, when it was looked at last
  std::chrono::steady_clock::time_point read_at_{};
};

}  // namespace tubwarden
