#include "shell/hosts/spawn.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <csignal>
#include <cstring>
#include <string_view>

namespace tubwarden {

namespace {

constexpr int kFirstGiven = 3;

/// What a host must not take for its own: it would speak to the service manager in our name.
constexpr std::array<std::string_view, 6> kOurs = {
    "NOTIFY_SOCKET=", "WATCHDOG_PID=", "WATCHDOG_USEC=",
    "LISTEN_PID=",    "LISTEN_FDS=",   "LISTEN_FDNAMES="};

std::vector<char*> environment() {
  std::vector<char*> passed;
  for (char** line = environ; *line != nullptr; ++line) {
    const std::string_view text = *line;
    const bool ours = std::any_of(kOurs.begin(), kOurs.end(),
                                  [&](std::string_view name) { return text.starts_with(name); });
    if (!ours) passed.push_back(*line);
  }
  passed.push_back(nullptr);
  return passed;
}

/// Copies above all numbers that the child gets, so that no dup2 overwrites a later one's source.
class Lifted {
 public:
  explicit Lifted(const std::vector<int>& given) {
    for (const int fd : given) fds_.push_back(::fcntl(fd, F_DUPFD_CLOEXEC, 32));
  }
  ~Lifted() {
    for (const int fd : fds_) {
      if (fd >= 0) ::close(fd);
    }
  }
  Lifted(const Lifted&) = delete;
  Lifted& operator=(const Lifted&) = delete;
  const std::vector<int>& fds() const { return fds_; }

 private:
  std::vector<int> fds_;
};

}  // namespace

Result<pid_t> spawn_with(const std::string& program, std::vector<std::string> argv,
                         const std::vector<int>& given, int out) {
  const Lifted lifted(given);
  posix_spawn_file_actions_t actions;
  posix_spawnattr_t attributes;
  ::posix_spawn_file_actions_init(&actions);
  ::posix_spawnattr_init(&attributes);
  int next = kFirstGiven;
  // Before stdin and stdout are changed: `out` may be any number, its copy is not.
  if (out >= 0) {
    ::posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO);
  } else {
    ::posix_spawn_file_actions_adddup2(&actions, STDERR_FILENO, STDOUT_FILENO);
  }
  ::posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  for (const int fd : lifted.fds()) ::posix_spawn_file_actions_adddup2(&actions, fd, next++);
  ::posix_spawn_file_actions_addclosefrom_np(&actions, next);
  sigset_t none, plain;
  ::sigemptyset(&none);
  ::sigemptyset(&plain);
  for (const int number : {SIGINT, SIGTERM, SIGHUP, SIGPIPE}) ::sigaddset(&plain, number);
  ::posix_spawnattr_setsigmask(&attributes, &none);
  ::posix_spawnattr_setsigdefault(&attributes, &plain);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);

  std::vector<char*> words;
  for (std::string& word : argv) words.push_back(word.data());
  words.push_back(nullptr);
  std::vector<char*> variables = environment();
  pid_t pid = -1;
  const int error =
      ::posix_spawn(&pid, program.c_str(), &actions, &attributes, words.data(), variables.data());
  ::posix_spawn_file_actions_destroy(&actions);
  ::posix_spawnattr_destroy(&attributes);
  if (error != 0) {
    return Error{ErrorCode::broken, program + " cannot be started: " + std::strerror(error)};
  }
  return pid;
}

}  // namespace tubwarden
