#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "parts/parts.hpp"

namespace parts {

namespace fs = std::filesystem;

namespace {

/// The program's path, looked for in PATH and in the folders of system daemons.
std::string resolve(const std::string& program) {
  if (program.find('/') != std::string::npos) return program;
  const char* path = std::getenv("PATH");
  std::istringstream folders(std::string(path ? path : "") + ":/usr/sbin:/usr/bin:/sbin:/bin");
  for (std::string folder; std::getline(folders, folder, ':');) {
    const std::string candidate = folder + "/" + program;
    if (!folder.empty() && ::access(candidate.c_str(), X_OK) == 0) return candidate;
  }
  throw std::runtime_error("no program " + program + " in PATH");
}

std::vector<std::string> merged_environment(const std::vector<std::string>& added) {
  std::vector<std::string> all = added;
  for (char** line = environ; *line != nullptr; ++line) {
    const std::string_view mine = *line;
    const std::string_view name = mine.substr(0, mine.find('=') + 1);
    bool replaced = false;
    for (const std::string& other : added) replaced = replaced || other.starts_with(name);
    if (!replaced) all.emplace_back(mine);
  }
  return all;
}

std::vector<char*> pointers(std::vector<std::string>& words) {
  std::vector<char*> result;
  for (std::string& word : words) result.push_back(word.data());
  result.push_back(nullptr);
  return result;
}

int open_output(const fs::path& path) {
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
  if (fd < 0) throw std::runtime_error("cannot open " + path.string());
  return fd;
}

std::string contents(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

/// The parent's pid of a process as /proc has it, or 0.
int parent_of(const fs::path& entry) {
  const std::string stat = contents(entry / "stat");
  const std::size_t name_end = stat.rfind(')');
  if (name_end == std::string::npos) return 0;
  char state = 0;
  int parent = 0;
  std::istringstream(stat.substr(name_end + 1)) >> state >> parent;
  return state == 'Z' ? 0 : parent;
}

}  // namespace

struct Process::Impl {
  TempFolder folder;
  int pid = -1;
  int pidfd = -1;
  bool own_group = false;
  std::optional<int> status;

  void reap() {
    int raw = 0;
    while (::waitpid(pid, &raw, 0) < 0 && errno == EINTR) {
    }
    status = WIFEXITED(raw) ? WEXITSTATUS(raw) : 128 + WTERMSIG(raw);
  }
};

Process::Process(std::vector<std::string> argv) : Process(std::move(argv), Options{}) {}

Process::Process(std::vector<std::string> argv, Options options) : impl_(std::make_unique<Impl>()) {
  // All that allocates happens before the fork: the child of a threaded program may not.
  const std::string program = resolve(argv.at(0));
  std::vector<std::string> environment = merged_environment(options.environment);
  std::vector<char*> arguments = pointers(argv);
  std::vector<char*> variables = pointers(environment);
  const int out = open_output(impl_->folder.path() / "out");
  const int err = open_output(impl_->folder.path() / "err");
  const int nothing = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  const pid_t parent = ::getpid();
  const bool own_group = options.own_group;

  const pid_t pid = ::fork();
  if (pid == 0) {
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (::getppid() != parent) ::_exit(127);
    sigset_t none;
    ::sigemptyset(&none);
    ::sigprocmask(SIG_SETMASK, &none, nullptr);
    if (own_group) ::setpgid(0, 0);
    ::dup2(nothing, 0);
    ::dup2(out, 1);
    ::dup2(err, 2);
    ::execve(program.c_str(), arguments.data(), variables.data());
    constexpr char kWords[] = "exec failed\n";
    [[maybe_unused]] const ssize_t written = ::write(2, kWords, sizeof kWords - 1);
    ::_exit(127);
  }
  ::close(out);
  ::close(err);
  ::close(nothing);
  if (pid < 0) throw std::runtime_error("cannot fork for " + program);
  if (own_group) ::setpgid(pid, pid);
  impl_->pid = pid;
  impl_->own_group = own_group;
  impl_->pidfd = static_cast<int>(::syscall(SYS_pidfd_open, pid, 0));
  if (impl_->pidfd < 0) {
    ::kill(pid, SIGKILL);
    impl_->reap();
    throw std::runtime_error(std::string("pidfd_open: ") + std::strerror(errno));
  }
}

Process::~Process() {
  if (!impl_->status) {
    ::kill(impl_->own_group ? -impl_->pid : impl_->pid, SIGKILL);
    impl_->reap();
  }
  ::close(impl_->pidfd);
}

int Process::pid() const { return impl_->pid; }

void Process::signal(int number) const {
  if (!impl_->status) ::kill(impl_->pid, number);
}

std::optional<int> Process::wait(std::chrono::milliseconds limit) {
  const Steady::time_point end = Steady::now() + limit;
  while (!impl_->status) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(end - Steady::now()) + 1ms;
    pollfd watched{impl_->pidfd, POLLIN, 0};
    if (::poll(&watched, 1, static_cast<int>(std::max(left, 0ms).count())) > 0) impl_->reap();
    if (!impl_->status && Steady::now() >= end) return std::nullopt;
  }
  return impl_->status;
}

std::string Process::out() const { return contents(impl_->folder.path() / "out"); }
std::string Process::err() const { return contents(impl_->folder.path() / "err"); }

std::vector<int> Process::children(const std::string& word) const {
  std::vector<int> found;
  std::error_code gone;
  for (const fs::directory_entry& entry : fs::directory_iterator("/proc", gone)) {
    const std::string name = entry.path().filename();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    if (parent_of(entry.path()) != impl_->pid) continue;
    std::string line = contents(entry.path() / "cmdline");
    for (char& c : line) c = c == '\0' ? ' ' : c;
    if (line.find(word) != std::string::npos) found.push_back(std::stoi(name));
  }
  return found;
}

Ran run(std::vector<std::string> argv, std::chrono::milliseconds limit) {
  const std::string program = argv.at(0);
  Process process(std::move(argv));
  const std::optional<int> status = process.wait(limit);
  if (!status)
    throw std::runtime_error(program + " did not end in time; it said: " + process.err());
  return {*status, process.out(), process.err()};
}

}  // namespace parts
