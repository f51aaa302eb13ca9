#include "shell/hosts/host_process.hpp"

#include <linux/sockios.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <csignal>
#include <cstring>
#include <ctime>
#include <utility>

#include "sdk/pidfd.hpp"
#include "shell/hosts/spawn.hpp"

namespace tubwarden {

namespace asio = boost::asio;

namespace {

/// A safe-run's longest life: the old host's end, loading, two calls an output, reaching it.
constexpr std::chrono::seconds kSafeRunMax{10};
/// A driver that never stops talking gets no more of a turn than others need.
constexpr int kPacketsATurn = 32;

/// Seconds of CPU time a window; the kernel counts whole ones.
std::uint32_t cpu_allowance(const HostLimits& limits) {
  const double s = seconds_of(limits.cpu_window) * limits.cpu_percent / 100.0;
  return static_cast<std::uint32_t>(std::max(1.0, std::ceil(s)));
}

/// A descriptor that is closed unless it was handed on.
class Owned {
 public:
  explicit Owned(int fd) : fd_(fd) {}
  ~Owned() {
    if (fd_ >= 0) ::close(fd_);
  }
  Owned(const Owned&) = delete;
  Owned& operator=(const Owned&) = delete;
  int get() const { return fd_; }
  int release() { return std::exchange(fd_, -1); }

 private:
  int fd_;
};

/// What was sent and the other side has not taken yet, in the kernel's own measure; see unix(7).
int unread_of(int socket) {
  int bytes = 0;
  return ::ioctl(socket, SIOCOUTQ, &bytes) == 0 ? bytes : 0;
}

Error system_error(const char* what) {
  return {ErrorCode::broken, std::string(what) + ": " + std::strerror(errno)};
}

}  // namespace

std::string HostEnding::words() const {
  if (safe_run_left) return "hung, and what was to make its outputs safe did not end";
  if (by_signal) {
    return "was ended by signal " + std::to_string(code) + " (" + ::strsignal(code) + ")";
  }
  switch (code) {
    case protocol::kExitDone:
      return "ended";
    case protocol::kExitOtherFiles:
      return "ended to be started anew: its outputs need other files";
    case protocol::kExitHung:
      return "hung and was ended by its watchdog";
    case protocol::kExitUnsafe:
      return "could not make all outputs safe";
    case protocol::kExitRefused:
      return "cannot load its plugin";
    default:  // an open set: any number a process ends with
      return "ended with exit code " + std::to_string(code);
  }
}

HostProcess::HostProcess(asio::io_context& loop, int socket, int pid, Handlers handlers)
    : socket_(loop, socket),
      pidfd_(loop),
      patience_(loop),
      window_(loop),
      pid_(pid),
      handlers_(std::move(handlers)) {}

HostProcess::~HostProcess() = default;

Result<std::shared_ptr<HostProcess>> HostProcess::spawn(asio::io_context& loop,
                                                        const std::string& program,
                                                        std::vector<std::string> words, int spec,
                                                        Handlers handlers) {
  int pair[2] = {-1, -1};
  if (::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0) {
    return system_error("socketpair");
  }
  Owned ours(pair[0]);
  const Owned theirs(pair[1]);
  std::vector<int> given = {theirs.get()};
  if (spec >= 0) given.push_back(spec);
  words.insert(words.begin(), program);
  const Result<pid_t> pid = spawn_with(program, std::move(words), given);
  if (!pid) return pid.error();
  Owned pidfd(open_pidfd(*pid));
  ENSURE(pidfd.get() >= 0);  // a child not yet reaped always has one
  std::shared_ptr<HostProcess> process(
      new HostProcess(loop, ours.release(), *pid, std::move(handlers)));
  process->pidfd_.assign(pidfd.release());
  process->listen();
  process->watch_end();
  return process;
}

Result<std::shared_ptr<HostProcess>> HostProcess::serve(asio::io_context& loop,
                                                        const std::string& program,
                                                        const std::string& plugin_path,
                                                        const HostLimits& limits,
                                                        Handlers handlers) {
  auto started =
      spawn(loop, program,
            {"--plugin", plugin_path, "--fd", "3", "--memory", std::to_string(limits.memory_mib),
             "--cpu", std::to_string(cpu_allowance(limits))},
            -1, std::move(handlers));
  if (!started) return started;
  (*started)->limits_ = limits;
  (*started)->await_window();
  return started;
}

Result<std::shared_ptr<HostProcess>> HostProcess::safe_run(asio::io_context& loop,
                                                           const std::string& program,
                                                           const protocol::SafeRun& spec,
                                                           Handlers handlers) {
  const Owned file(::memfd_create("tubwarden-safe-run", MFD_CLOEXEC));
  const std::string text = protocol::encode(spec);
  if (file.get() < 0 ||
      ::write(file.get(), text.data(), text.size()) != static_cast<ssize_t>(text.size())) {
    return system_error("memfd");
  }
  return spawn(loop, program, {"--safe-run", "--fd", "3", "--spec", "4"}, file.get(),
               std::move(handlers));
}

void HostProcess::grant_cpu() {
  if (process_over_) return;
  clockid_t clock{};
  timespec used{};
  rlimit now{};
  const bool known = ::clock_getcpuclockid(pid_, &clock) == 0 &&
                     ::clock_gettime(clock, &used) == 0 &&
                     ::prlimit(pid_, RLIMIT_CPU, nullptr, &now) == 0;
  if (known) {
    now.rlim_cur = static_cast<rlim_t>(used.tv_sec) + 1 + cpu_allowance(limits_);
    ::prlimit(pid_, RLIMIT_CPU, &now, nullptr);
  }
  await_window();
}

void HostProcess::await_window() {
  window_.expires_after(limits_.cpu_window);
  window_.async_wait([weak = weak_from_this()](const boost::system::error_code& error) {
    const auto self = weak.lock();
    if (self && !error) self->grant_cpu();
  });
}

bool HostProcess::send(const protocol::ToHost& message) {
  if (!socket_.is_open()) return false;
  note_reading();
  const bool sent = protocol::send_packet(socket_.native_handle(), protocol::encode(message));
  unread_ = unread_of(socket_.native_handle());
  return sent;
}

void HostProcess::note_reading() {
  const int now = socket_.is_open() ? unread_of(socket_.native_handle()) : 0;
  if (now == 0 || now < unread_) read_at_ = std::chrono::steady_clock::now();
  unread_ = now;
}

Duration HostProcess::unread_for() {
  note_reading();
  return unread_ == 0 ? Duration{0} : Duration(std::chrono::steady_clock::now() - read_at_);
}

void HostProcess::hang_up() {
  if (socket_.is_open()) ::shutdown(socket_.native_handle(), SHUT_WR);
}

void HostProcess::kill() {
  if (!process_over_) ::kill(pid_, SIGKILL);  // not yet reaped: the number is still its
}

void HostProcess::listen() {
  socket_.async_wait(asio::posix::stream_descriptor::wait_read,
                     [weak = weak_from_this()](const boost::system::error_code& error) {
                       const auto self = weak.lock();
                       if (self && !error) self->read_some();
                     });
}

void HostProcess::read_some() {
  for (int packets = 0; packets < kPacketsATurn; ++packets) {
    switch (protocol::receive_packet(socket_.native_handle(), packet_)) {
      case protocol::Received::nothing:
        return listen();
      case protocol::Received::gone:
        socket_over_ = true;
        return end_if_over();
      case protocol::Received::packet:
        break;
    }
    const Result<protocol::ToDaemon> message = protocol::decode_to_daemon(packet_);
    if (message) {
      handlers_.message(*message);
    } else {
      handlers_.message(protocol::Failed{std::nullopt, protocol::Failure::packet,
                                         "its packet was not understood: " + message.error().text});
    }
    if (!socket_.is_open()) return;
  }
  listen();  // the rest of a flood, after whatever else is due
}

void HostProcess::watch_end() {
  pidfd_.async_wait(asio::posix::stream_descriptor::wait_read,
                    [weak = weak_from_this()](const boost::system::error_code& error) {
                      const auto self = weak.lock();
                      if (!self || error) return;
                      siginfo_t info{};
                      const auto pidfd = static_cast<id_t>(self->pidfd_.native_handle());
                      if (::waitid(P_PIDFD, pidfd, &info, WEXITED) == 0) {
                        self->ending_.by_signal = info.si_code != CLD_EXITED;
                        self->ending_.code = info.si_status;
                      }
                      self->process_over_ = true;
                      self->pidfd_.close();
                      self->wait_for_safe_run();
                      self->end_if_over();
                    });
}

void HostProcess::wait_for_safe_run() {
  if (socket_over_) return;
  patience_.expires_after(kSafeRunMax);
  patience_.async_wait([weak = weak_from_this()](const boost::system::error_code& error) {
    const auto self = weak.lock();
    if (!self || error || self->socket_over_) return;
    self->socket_over_ = true;
    self->ending_.safe_run_left = true;
    self->end_if_over();
  });
}

void HostProcess::end_if_over() {
  if (!socket_over_ || !process_over_ || !handlers_.ended) return;
  patience_.cancel();
  window_.cancel();
  socket_.close();
  const auto ended = std::exchange(handlers_.ended, nullptr);
  ended(ending_);
}

}  // namespace tubwarden
