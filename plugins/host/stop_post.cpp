#include "host/stop_post.hpp"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "host/outputs.hpp"
#include "host/safe_run.hpp"
#include "host/tell_stderr.hpp"
#include "sdk/pidfd.hpp"
#include "sdk/safe_list.hpp"

namespace tubwarden::host {

namespace {

void say(const std::string& words) { tell_stderr("stop-post: " + words + "\n"); }

class Fd {
 public:
  explicit Fd(int fd = -1) : fd_(fd) {}
  ~Fd() { reset(); }
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  int get() const { return fd_; }
  void reset(int fd = -1) {
    if (fd_ >= 0) ::close(fd_);
    fd_ = fd;
  }

 private:
  int fd_;
};

/// Starts a safe-run of this very program; its pid, or nothing.
std::optional<pid_t> spawn_safe_run(int socket, int spec) {
  // Above the numbers that the new process gets.
  const Fd far_socket(::fcntl(socket, F_DUPFD_CLOEXEC, 16));
  const Fd far_spec(::fcntl(spec, F_DUPFD_CLOEXEC, 16));
  posix_spawn_file_actions_t actions;
  ENSURE(::posix_spawn_file_actions_init(&actions) == 0);
  ::posix_spawn_file_actions_adddup2(&actions, far_socket.get(), kSocketFd);
  ::posix_spawn_file_actions_adddup2(&actions, far_spec.get(), kSpecFd);
  ::posix_spawn_file_actions_addclosefrom_np(&actions, kSpecFd + 1);
  char name[] = "tubwarden-plugin-host", run[] = "--safe-run", hurry[] = "--hurry", fd[] = "--fd",
       three[] = "3", spec_word[] = "--spec", four[] = "4";
  char* argv[] = {name, run, hurry, fd, three, spec_word, four, nullptr};
  pid_t pid = 0;
  const int error = ::posix_spawn(&pid, "/proc/self/exe", &actions, nullptr, argv, environ);
  ::posix_spawn_file_actions_destroy(&actions);
  return error == 0 ? std::optional(pid) : std::nullopt;
}

/// The outputs of one plugin, made safe by one safe-run after the other until each has been tried:
/// the first takes all, the next what a hung or crashed one has left behind.
class Lane {
 public:
  explicit Lane(protocol::SafeRun all) : plugin_(std::move(all.plugin_path)) {
    left_ = std::move(all.outputs);
  }
  ~Lane() {
    // Asked to end by nobody else; reaped by whoever adopts it.
    if (pid_ > 0) ::kill(pid_, SIGKILL);
  }
  Lane(const Lane&) = delete;
  Lane& operator=(const Lane&) = delete;

  bool running() const { return pid_ > 0; }
  int ended_fd() const { return pidfd_.get(); }
  std::size_t failures() const { return failures_; }

  void start() {
    while (!running() && !left_.empty()) {
      const std::size_t most = one_by_one_ ? 1 : Outputs::kOutputsMax;
      const auto cut = left_.begin() + static_cast<long>(std::min(most, left_.size()));
      now_.assign(std::make_move_iterator(left_.begin()), std::make_move_iterator(cut));
      left_.erase(left_.begin(), cut);
      for (std::size_t i = 0; i < now_.size(); ++i) now_[i].output = static_cast<uint32_t>(i + 1);
      if (!spawn()) fail_all(std::string("a safe-run cannot be started: ") + std::strerror(errno));
    }
  }

  /// The safe-run has ended: what it said and how it ended decide what is left to do.
  void judge() {
    std::optional<std::string> last_word;
    std::vector<std::uint32_t> named;
    std::string packet;
    while (protocol::receive_packet(socket_.get(), packet) == protocol::Received::packet) {
      const auto message = protocol::decode_to_daemon(packet);
      const auto* failed = message ? std::get_if<protocol::Failed>(&*message) : nullptr;
      if (failed == nullptr) continue;
      const bool of_one = failed->output && *failed->output >= 1 && *failed->output <= now_.size();
      if (!of_one) {
        last_word = failed->text;
      } else if (std::find(named.begin(), named.end(), *failed->output) == named.end()) {
        named.push_back(*failed->output);
        fail(now_[*failed->output - 1], failed->text);
      }
    }
    siginfo_t end{};
    const bool reaped = ::waitid(P_PIDFD, static_cast<id_t>(pidfd_.get()), &end, WEXITED) == 0;
    const bool done = reaped && end.si_code == CLD_EXITED && end.si_status == protocol::kExitDone;
    pid_ = 0;
    pidfd_.reset();
    socket_.reset();
    if (done) return;
    if (last_word) {  // it came to its end: what it did not name is safe
      if (named.empty()) fail_all(*last_word);
    } else if (!named.empty()) {
      again_without(named);
    } else if (now_.size() == 1) {
      fail(now_.front(), "its driver crashed");
    } else {
      one_by_one_ = true;
      again_without({});
    }
  }

  /// Time is over.
  void give_up() {
    if (running()) fail_all("its driver did not come to an end in time");
    for (const protocol::Open& output : std::exchange(left_, {})) {
      fail(output, "there was no time left for it");
    }
  }

 private:
  bool spawn() {
    int ends[2] = {-1, -1};
    if (::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0) return false;
    socket_.reset(ends[0]);
    const Fd theirs(ends[1]);
    const Fd spec(::memfd_create("tubwarden-safe-run", MFD_CLOEXEC));
    const std::string text = protocol::encode(protocol::SafeRun{plugin_, now_});
    if (::write(spec.get(), text.data(), text.size()) != static_cast<ssize_t>(text.size())) {
      return false;
    }
    const auto pid = spawn_safe_run(theirs.get(), spec.get());
    if (!pid) return false;
    pidfd_.reset(open_pidfd(*pid));
    pid_ = *pid;
    ENSURE(pidfd_.get() >= 0);
    return true;
  }

  /// The named one hung or took the process with it; those before it are safe, and are set again.
  void again_without(const std::vector<std::uint32_t>& named) {
    std::vector<protocol::Open> rest;
    for (protocol::Open& output : now_) {
      if (std::find(named.begin(), named.end(), output.output) == named.end()) {
        rest.push_back(std::move(output));
      }
    }
    left_.insert(left_.begin(), rest.begin(), rest.end());
  }

  void fail_all(const std::string& why) {
    for (const protocol::Open& output : now_) fail(output, why);
  }
  void fail(const protocol::Open& output, const std::string& why) {
    ++failures_;
    say(output.id + " cannot be made safe, go and look: " + why);
  }

  std::string plugin_;
  std::vector<protocol::Open> left_, now_;
  bool one_by_one_ = false;
  std::size_t failures_ = 0;
  pid_t pid_ = 0;
  Fd pidfd_, socket_;
};

/// Nothing: there is no such file. An error: there is, and it cannot be read.
Result<std::optional<std::string>> read_list(const std::string& path) {
  const Fd file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY));
  if (file.get() < 0 && errno == ENOENT) return std::optional<std::string>();
  struct stat about {};
  if (file.get() < 0 || ::fstat(file.get(), &about) != 0) {
    return Error{ErrorCode::broken, std::strerror(errno)};
  }
  if (!S_ISREG(about.st_mode)) return Error{ErrorCode::broken, "it is not a file"};
  std::string text(protocol::kSafeListBytesMax + 1, '\0');
  std::size_t length = 0;
  ssize_t got = 0;
  while ((got = ::read(file.get(), text.data() + length, text.size() - length)) > 0) {
    length += static_cast<std::size_t>(got);
  }
  if (got < 0) return Error{ErrorCode::broken, std::strerror(errno)};
  if (length > protocol::kSafeListBytesMax) {
    return Error{ErrorCode::broken, "it is longer than 1 MiB"};
  }
  text.resize(length);
  return std::optional<std::string>(std::move(text));
}

void run_all(std::vector<std::unique_ptr<Lane>>& lanes, Instant deadline) {
  for (const auto& lane : lanes) lane->start();
  for (;;) {
    std::vector<pollfd> ends;
    for (const auto& lane : lanes) {
      if (lane->running()) ends.push_back({lane->ended_fd(), POLLIN, 0});
    }
    const auto left = std::chrono::ceil<milliseconds>(deadline - boot_now()).count();
    if (ends.empty() || left <= 0) return;
    if (::poll(ends.data(), ends.size(), static_cast<int>(left)) <= 0) continue;
    std::size_t i = 0;
    for (const auto& lane : lanes) {
      if (!lane->running() || ends[i++].revents == 0) continue;
      lane->judge();
      lane->start();
    }
  }
}

}  // namespace

int make_safe(const std::string& list_path) {
  const Instant began = boot_now();
  ::signal(SIGPIPE, SIG_IGN);
  Result<std::optional<std::string>> text = read_list(list_path);
  if (!text) {
    say(list_path + " cannot be read, go and look at your outputs: " + text.error().text);
    return protocol::kExitSomeLeft;
  }
  if (!*text) {
    say("there is no " + list_path + ": no output was in use");
    return protocol::kExitDone;
  }
  protocol::SafeList list = protocol::decode_safe_list(**text);
  for (const std::string& problem : list.problems) say(list_path + ": " + problem);
  std::vector<std::unique_ptr<Lane>> lanes;
  std::size_t outputs = 0;
  for (protocol::SafeRun& run : list.runs) {
    outputs += run.outputs.size();
    lanes.push_back(std::make_unique<Lane>(std::move(run)));
  }
  run_all(lanes, began + kStopPostMax);
  std::size_t failures = 0;
  for (const auto& lane : lanes) {
    lane->give_up();
    failures += lane->failures();
  }
  const auto took = std::chrono::round<milliseconds>(boot_now() - began).count();
  say(std::to_string(outputs - failures) + " of " + std::to_string(outputs) +
      " outputs made safe in " + std::to_string(took) + " ms");
  return failures == 0 && list.problems.empty() ? protocol::kExitDone : protocol::kExitSomeLeft;
}

}  // namespace tubwarden::host
