// The program channel: runs the grower's own program for each message, which reads it as one JSON
// object on stdin. No shell, a clean environment, and no part of the message among the arguments: a
// title can never become a word of a command line.

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstring>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sdk/pidfd.hpp"
#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

using std::chrono::milliseconds;
using tubwarden::Wiring;
using Clock = std::chrono::steady_clock;

constexpr milliseconds kLimitDefault{20000};
constexpr milliseconds kLimitMax{60000};  // below the host's own patience with deliver()
constexpr std::size_t kErrorBytesMax = 500;

constexpr tw_option kOptions[] = {
    {"argv", "list", "", nullptr, "The program (a full path) and its arguments."},
    {"timeout", "duration", "100ms..60s", "20s", "After this long the program is ended."},
};

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

/// Starts it in a process group of its own, so that what it starts is ended with it.
int start(std::vector<std::string> argv, int in, int err, pid_t& pid) {
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
  std::vector<char*> words;
  for (std::string& word : argv) words.push_back(word.data());
  words.push_back(nullptr);
  char path[] = "PATH=/usr/local/bin:/usr/bin:/bin", language[] = "LANG=C.UTF-8";
  char* environment[] = {path, language, nullptr};
  const int error = ::posix_spawn(&pid, words[0], &actions, &attributes, words.data(), environment);
  ::posix_spawn_file_actions_destroy(&actions);
  ::posix_spawnattr_destroy(&attributes);
  return error;
}

int left_ms(Clock::time_point end) {
  const auto left = std::chrono::ceil<milliseconds>(end - Clock::now()).count();
  return static_cast<int>(std::clamp<std::int64_t>(left, 0, kLimitMax.count()));
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

std::int32_t fail(const tw_host* host, const std::string& why) {
  host->say(host->context, TW_ERROR, why.c_str());
  return TW_FAILED;
}

std::int32_t judge(const tw_host* host, const std::string& program, int status,
                   std::string errors) {
  errors.resize(std::min(errors.size(), kErrorBytesMax));
  while (!errors.empty() && errors.back() == '\n') errors.pop_back();
  std::replace(errors.begin(), errors.end(), '\n', ' ');
  const std::string tail = errors.empty() ? "" : ": " + errors;
  if (WIFSIGNALED(status)) {
    return fail(host, program + " was ended by signal " + std::to_string(WTERMSIG(status)) + tail);
  }
  if (WEXITSTATUS(status) != 0) {
    return fail(host,
                program + " ended with exit code " + std::to_string(WEXITSTATUS(status)) + tail);
  }
  return TW_OK;
}

std::int32_t run(const tw_host* host, const std::vector<std::string>& argv, milliseconds limit,
                 std::string_view message) {
  Pipe in, err;
  if (!in.open() || !err.open()) return fail(host, std::string("pipe: ") + std::strerror(errno));
  pid_t pid = -1;
  const int error = start(argv, in.read.get(), err.write.get(), pid);
  if (error != 0) return fail(host, argv[0] + " cannot be started: " + std::strerror(error));
  in.read.close();
  err.write.close();
  const Descriptor pidfd(tubwarden::open_pidfd(pid));
  std::string errors;
  const bool ended = attend(in, err, pidfd.get(), message, errors, Clock::now() + limit);
  if (!ended) ::kill(-pid, SIGKILL);
  int status = 0;
  while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) continue;
  if (!ended) {
    return fail(host, argv[0] + " did not end within " + std::to_string(limit.count()) + " ms");
  }
  return judge(host, argv[0], status, std::move(errors));
}

std::int32_t deliver(const tw_host* host, const char* wiring_json, const char*,
                     const char* message) {
  const auto wiring = Wiring::parse(wiring_json);
  const auto bad = [host](const std::string& why) {
    host->say(host->context, TW_ERROR, why.c_str());
    return TW_BAD_OPTION;
  };
  if (!wiring) return bad(wiring.error().text);
  const auto argv = wiring->list("argv");
  if (!argv) return bad(argv.error().text);
  if ((*argv)[0].empty() || (*argv)[0][0] != '/') {
    return bad("wiring: argv must begin with the full path of a program, not '" + (*argv)[0] + "'");
  }
  const auto limit = wiring->duration_or("timeout", kLimitDefault);
  if (!limit) return bad(limit.error().text);
  if (*limit < milliseconds(100) || *limit > kLimitMax) {
    return bad("wiring: timeout must be 100ms..60s");
  }
  return run(host, *argv, *limit, message);
}

constexpr tw_plugin kPlugin = {
    TW_ABI, sizeof(tw_plugin), TW_KIND_CHANNEL, 0,       "program", kOptions,
    2,      nullptr,           nullptr,         nullptr, nullptr,   deliver};

}  // namespace

extern "C" __attribute__((visibility("default"))) const tw_plugin* tubwarden_plugin(void) {
  return &kPlugin;
}
