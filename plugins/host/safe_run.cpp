#include "host/safe_run.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <csignal>
#include <utility>

#include "base/ensure.hpp"
#include "host/limits.hpp"
#include "host/loaded_plugin.hpp"
#include "host/outputs.hpp"
#include "host/tell_stderr.hpp"
#include "host/voice.hpp"
#include "host/watchdog.hpp"
#include "sdk/pidfd.hpp"

namespace tubwarden::host {

namespace {

constexpr int kAfterFd = 5;
constexpr int kOldEndMsMax = 1000;
constexpr off_t kSpecBytesMax = 1 << 20;

/// Out of the way of the numbers that the new process gets.
int above_the_given(int fd) {
  const int moved = ::fcntl(fd, F_DUPFD_CLOEXEC, 16);
  ENSURE(moved >= 0);
  return moved;
}

std::string read_all(int fd) {
  struct stat file {};
  if (::fstat(fd, &file) != 0 || file.st_size <= 0 || file.st_size > kSpecBytesMax) return {};
  std::string text(static_cast<std::size_t>(file.st_size), '\0');
  const ssize_t got = ::pread(fd, text.data(), text.size(), 0);
  text.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
  return text;
}

/// A safe-run speaks only of what failed: opened and closed belong to a host.
void tell(const SafeRunOrder& order, const protocol::ToDaemon& message) {
  const auto* failed = std::get_if<protocol::Failed>(&message);
  const auto* said = std::get_if<protocol::Said>(&message);
  if (failed == nullptr && said == nullptr) return;
  if (order.talks) {
    tell_stderr("safe-run: " + (failed != nullptr ? failed->text : said->text) + "\n");
  }
  if (order.socket >= 0) protocol::send_packet(order.socket, protocol::encode(message));
}

int cannot(const SafeRunOrder& order, const std::string& why) {
  tell(order,
       protocol::Failed{std::nullopt, protocol::Failure::unsafe, "cannot be made safe: " + why});
  return protocol::kExitUnsafe;
}

bool ended_in_time(int pidfd) {
  pollfd ended{pidfd, POLLIN, 0};
  return ::poll(&ended, 1, kOldEndMsMax) > 0;
}

/// The watchdog of a safe-run: it has nobody to hand over to.
[[noreturn]] void give_up(const SafeRunOrder& order, const WatchedCall& call) {
  std::array<char, 256> packet{};
  const std::size_t length =
      protocol::encode_hung(packet.data(), packet.size(), protocol::Failure::unsafe, call.output,
                            call.call, call.limit_ms);
  if (order.socket >= 0) protocol::send_packet(order.socket, {packet.data(), length});
  if (order.talks) tell_stderr("safe-run: cannot be made safe: the driver hangs again\n");
  ::_exit(protocol::kExitUnsafe);
}

}  // namespace

SafeRunStarter::SafeRunStarter(std::string plugin_path, int socket)
    : plugin_path_(std::move(plugin_path)) {
  const int spec = ::memfd_create("tubwarden-safe-run", MFD_CLOEXEC);
  const int self = open_pidfd(::getpid());
  ENSURE(spec >= 0 && self >= 0);
  spec_ = above_the_given(spec);
  self_ = above_the_given(self);
  socket_ = above_the_given(socket);
  ::close(spec);
  ::close(self);
  ENSURE(::posix_spawn_file_actions_init(&actions_) == 0);
  ::posix_spawn_file_actions_adddup2(&actions_, socket_, kSocketFd);
  ::posix_spawn_file_actions_adddup2(&actions_, spec_, kSpecFd);
  ::posix_spawn_file_actions_adddup2(&actions_, self_, kAfterFd);
  ::posix_spawn_file_actions_addclosefrom_np(&actions_, kAfterFd + 1);
  ENSURE(::posix_spawnattr_init(&attributes_) == 0);
  sigset_t none;
  ::sigemptyset(&none);
  ::posix_spawnattr_setsigmask(&attributes_, &none);
  ::posix_spawnattr_setflags(&attributes_, POSIX_SPAWN_SETSIGMASK);
}

SafeRunStarter::~SafeRunStarter() {
  ::posix_spawn_file_actions_destroy(&actions_);
  ::posix_spawnattr_destroy(&attributes_);
  for (const int fd : {spec_, self_, socket_}) ::close(fd);
}

void SafeRunStarter::keep(const std::vector<protocol::Open>& outputs) {
  nothing_open_ = outputs.empty();
  const std::string text = protocol::encode(protocol::SafeRun{plugin_path_, outputs});
  ENSURE(::ftruncate(spec_, 0) == 0);
  ENSURE(::pwrite(spec_, text.data(), text.size(), 0) == static_cast<ssize_t>(text.size()));
}

bool SafeRunStarter::start(std::uint32_t hung_output) noexcept {
  std::to_chars(last_.data(), last_.data() + last_.size() - 1, hung_output);
  char name[] = "tubwarden-plugin-host", run[] = "--safe-run", fd[] = "--fd", three[] = "3",
       spec[] = "--spec", four[] = "4", after[] = "--after", five[] = "5", last[] = "--last";
  char* argv[] = {name, run, fd, three, spec, four, after, five, last, last_.data(), nullptr};
  pid_t pid = 0;
  use_reserve();  // a new process needs a little memory of this one
  return ::posix_spawn(&pid, "/proc/self/exe", &actions_, &attributes_, argv, environ) == 0;
}

int safe_run(const SafeRunOrder& order) {
  // Neither a keyboard's signal nor the service manager's may cut this short.
  for (const int ignored : {SIGINT, SIGHUP, SIGTERM, SIGPIPE}) ::signal(ignored, SIG_IGN);
  if (order.after >= 0 && !ended_in_time(order.after)) {
    return cannot(order, "the old host does not end");
  }
  Result<protocol::SafeRun> spec = protocol::decode_safe_run(read_all(order.spec));
  if (!spec) return cannot(order, "the list of outputs is unreadable: " + spec.error().text);
  Voice voice;
  Watchdog watchdog([&order](const WatchedCall& call) { give_up(order, call); });
  Result<const tw_plugin*> plugin = Error{ErrorCode::broken, "not loaded"};
  {
    const Watchdog::Guard guard(watchdog, {0, "loading", protocol::kCallMsMax});
    plugin = load_plugin(spec->plugin_path);
  }
  if (!plugin) return cannot(order, plugin.error().text);
  std::vector<protocol::Open>& opens = spec.value().outputs;
  std::stable_partition(opens.begin(), opens.end(),
                        [&](const protocol::Open& open) { return open.output != order.last; });
  bool opened = true;
  Outputs outputs(
      **plugin, voice, watchdog,
      [&](const protocol::ToDaemon& message) {
        const auto* failed = std::get_if<protocol::Failed>(&message);
        opened = opened && failed == nullptr;
        tell(order, message);
      },
      [](const std::vector<protocol::Open>&) {}, order.call_ms_max);
  for (const protocol::Open& output : opens) outputs.open(output);
  if (!outputs.finish(order.reach_max) || !opened) return cannot(order, "see above");
  tell(order,
       protocol::Said{protocol::SayLevel::warning, "a safe-run made safe what the host had open"});
  return protocol::kExitDone;
}

}  // namespace tubwarden::host
