#include "program/child.hpp"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdint>
#include <cstring>

#include "sdk/pidfd.hpp"

namespace tubwarden::program {

namespace {

using std::chrono::milliseconds;
using Clock = std::chrono::steady_clock;

constexpr milliseconds kPollMax{60000};
constexpr std::size_t kErrorBytesMax = 500;

class Descriptor {
 public:
  explicit Descriptor(int fd = -1) : fd_(fd) {}
  ~Descriptor() { close(); }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return fd_; }
  void set(int fd) { fd_ = fd; }
  void close() {
    if (fd_ >= 0) ::close(fd_);
    fd_ = -1;
  }

 private:
  int fd_;
};

struct Pipe {
  Descriptor read, write;
  bool open() {
    int fds[2];
    if (::pipe2(fds, O_CLOEXEC) != 0) return false;
    read.set(fds[0]);
    write.set(fds[1]);
    return true;
  }
};

std::vector<char*> pointers_to(std::vector<std::string>& words) {
  std::vector<char*> all;
  for (std::string& word : words) all.push_back(word.data());
  all.push_back(nullptr);
  return all;
}

/// Starts it in a process group of its own, so that what it starts is ended with it.
int start(std::vector<std::string> argv, std::vector<std::string> variables, int in, int err,
          pid_t& pid) {
  posix_spawn_file_actions_t actions;
  posix_spawnattr_t attributes;
  ::posix_spawn_file_actions_init(&actions);
  ::posix_spawnattr_init(&attributes);
  ::posix_spawn_file_actions_adddup2(&actions, in, STDIN_FILENO);
  ::posix_spawn_file_actions_adddup2(&actions, err, STDERR_FILENO);
  ::posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  ::posix_spawn_file_actions_addclosefrom_np(&actions, STDERR_FILENO + 1);
  sigset_t none, all;
  ::sigemptyset(&none);
  ::sigemptyset(&all);
  for (const int number : {SIGINT, SIGTERM, SIGHUP, SIGPIPE}) ::sigaddset(&all, number);
  ::posix_spawnattr_setsigmask(&attributes, &none);
  ::posix_spawnattr_setsigdefault(&attributes, &all);
  ::posix_spawnattr_setpgroup(&attributes, 0);
  ::posix_spawnattr_setflags(
      &attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
  variables.insert(variables.end(), {"PATH=/usr/local/bin:/usr/bin:/bin", "LANG=C.UTF-8"});
  std::vector<char*> words = pointers_to(argv), environment = pointers_to(variables);
  const int error =
      ::posix_spawn(&pid, words[0], &actions, &attributes, words.data(), environment.data());
  ::posix_spawn_file_actions_destroy(&actions);
  ::posix_spawnattr_destroy(&attributes);
  return error;
}

int left_ms(Clock::time_point end) {
  const auto left = std::chrono::ceil<milliseconds>(end - Clock::now()).count();
  return static_cast<int>(std::clamp<std::int64_t>(left, 0, kPollMax.count()));
}

/// Feeds stdin, keeps the beginning of stderr, waits for the end; false when `end` came first.
bool attend(Pipe& in, Pipe& err, int pidfd, std::string_view message, std::string& errors,
            Clock::time_point end) {
  ::fcntl(in.write.get(), F_SETFL, O_NONBLOCK);
  ::fcntl(err.read.get(), F_SETFL, O_NONBLOCK);
  for (;;) {
    std::array<pollfd, 3> ready = {
        {{pidfd, POLLIN, 0}, {in.write.get(), POLLOUT, 0}, {err.read.get(), POLLIN, 0}}};
    const int some = ::poll(ready.data(), ready.size(), left_ms(end));
    if (some == 0) return false;
    if (some < 0) continue;
    if (ready[1].revents != 0) {
      // A program that does not read to the end has its reasons: it is judged by its exit code.
      const ssize_t wrote = ::write(in.write.get(), message.data(), message.size());
      if (wrote > 0) message.remove_prefix(static_cast<std::size_t>(wrote));
      if ((wrote < 0 && errno != EAGAIN) || message.empty()) in.write.close();
    }
    if (ready[2].revents != 0) {
      std::array<char, 512> piece{};
      const ssize_t got = ::read(err.read.get(), piece.data(), piece.size());
      if (got > 0 && errors.size() < kErrorBytesMax) {
        errors.append(piece.data(), static_cast<std::size_t>(got));
      }
      if (got == 0) err.read.close();
    }
    if (ready[0].revents != 0) return true;
  }
}

std::optional<std::string> judge(const std::string& program, int status, std::string errors) {
  errors.resize(std::min(errors.size(), kErrorBytesMax));
  while (!errors.empty() && errors.back() == '\n') errors.pop_back();
  std::replace(errors.begin(), errors.end(), '\n', ' ');
  const std::string tail = errors.empty() ? "" : ": " + errors;
  if (WIFSIGNALED(status)) {
    return program + " was ended by signal " + std::to_string(WTERMSIG(status)) + tail;
  }
  if (WEXITSTATUS(status) != 0) {
    return program + " ended with exit code " + std::to_string(WEXITSTATUS(status)) + tail;
  }
  return std::nullopt;
}

}  // namespace

std::optional<std::string> run(const std::vector<std::string>& argv, std::string_view message,
                               const std::vector<std::string>& variables, milliseconds limit) {
  Pipe in, err;
  if (!in.open() || !err.open()) return std::string("pipe: ") + std::strerror(errno);
  pid_t pid = -1;
  const int error = start(argv, variables, in.read.get(), err.write.get(), pid);
  if (error != 0) return argv[0] + " cannot be started: " + std::strerror(error);
  in.read.close();
  err.write.close();
  if (message.empty()) in.write.close();
  const Descriptor pidfd(open_pidfd(pid));
  std::string errors;
  const bool ended = attend(in, err, pidfd.get(), message, errors, Clock::now() + limit);
  if (!ended) ::kill(-pid, SIGKILL);
  int status = 0;
  while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) continue;
  if (!ended) {
    return argv[0] + " did not end within " + std::to_string(limit.count()) + " ms";
  }
  return judge(argv[0], status, std::move(errors));
}

}  // namespace tubwarden::program
