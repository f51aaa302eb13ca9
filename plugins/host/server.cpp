#include "host/server.hpp"

#include <poll.h>
#include <sys/prctl.h>
#include <sys/signalfd.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <csignal>
#include <optional>
#include <utility>
#include <vector>

#include "base/ensure.hpp"
#include "host/cage.hpp"
#include "host/loaded_plugin.hpp"
#include "host/outputs.hpp"
#include "host/safe_run.hpp"
#include "host/tell_stderr.hpp"
#include "host/voice.hpp"
#include "host/watchdog.hpp"

namespace tubwarden::host {

namespace {

/// How long outputs out of reach are waited for: without a daemon nobody else will make them safe.
constexpr Duration kFinishAlone = seconds(10);
constexpr Duration kFinishAsked = seconds(1);
/// How often it is looked whether a device that is out of reach is another one by now.
constexpr Duration kLookAgain = seconds(1);

/// What a keyboard sends is the daemon's business: its end is our sign. SIGTERM becomes a
/// descriptor, and is blocked before there is any other thread, which would be ended by it.
int terminate_fd() {
  for (const int ignored : {SIGINT, SIGHUP, SIGPIPE}) ::signal(ignored, SIG_IGN);
  sigset_t mask;
  ::sigemptyset(&mask);
  ::sigaddset(&mask, SIGTERM);
  ENSURE(::pthread_sigmask(SIG_BLOCK, &mask, nullptr) == 0);
  const int fd = ::signalfd(-1, &mask, SFD_CLOEXEC | SFD_NONBLOCK);
  ENSURE(fd >= 0);
  return fd;
}

/// A wake-up at an instant of the boot clock.
class Alarm {
 public:
  Alarm() : fd_(::timerfd_create(CLOCK_BOOTTIME, TFD_CLOEXEC | TFD_NONBLOCK)) { ENSURE(fd_ >= 0); }
  ~Alarm() { ::close(fd_); }
  Alarm(const Alarm&) = delete;
  Alarm& operator=(const Alarm&) = delete;
  int fd() const { return fd_; }
  void set(std::optional<Instant> at) {
    if (at == at_) return;
    at_ = at;
    itimerspec spec{};
    if (at) {
      const auto ns = std::max<std::int64_t>(at->time_since_epoch().count(), 1);
      spec.it_value = {static_cast<time_t>(ns / 1'000'000'000),
                       static_cast<long>(ns % 1'000'000'000)};
    }
    ENSURE(::timerfd_settime(fd_, TFD_TIMER_ABSTIME, &spec, nullptr) == 0);
  }
  void drain() {
    std::uint64_t count = 0;
    if (::read(fd_, &count, sizeof count) > 0) at_.reset();
  }

 private:
  int fd_;
  std::optional<Instant> at_;
};

class Server {
 public:
  Server(const tw_plugin& plugin, Cage& cage, protocol::Held held, Voice& voice, Watchdog& watchdog,
         SafeRunStarter& starter, int socket, int terminate)
      : plugin_(plugin),
        cage_(cage),
        held_(std::move(held)),
        voice_(voice),
        watchdog_(watchdog),
        socket_(socket),
        terminate_(terminate),
        outputs_(
            plugin, voice, watchdog, [this](const protocol::ToDaemon& m) { tell(m); },
            [&starter](const std::vector<protocol::Open>& open) { starter.keep(open); }) {}

  int run() {
    for (;;) {
      if (needs_other_files()) {
        outputs_.hand_on();
        return protocol::kExitOtherFiles;
      }
      alarm_.set(next_wake());
      std::array<pollfd, 4> ready = {{{socket_, POLLIN, 0},
                                      {voice_.event_fd(), POLLIN, 0},
                                      {alarm_.fd(), POLLIN, 0},
                                      {terminate_, POLLIN, 0}}};
      if (::poll(ready.data(), ready.size(), -1) < 0) continue;
      if (ready[2].revents != 0) alarm_.drain();
      outputs_.tick();
      if (ready[1].revents != 0) outputs_.listen();
      if (ready[3].revents != 0) return end(kFinishAsked);
      if (ready[0].revents != 0 && !read_packets()) return end(kFinishAlone);
    }
  }

 private:
  int end(Duration limit) {
    return outputs_.finish(limit) ? protocol::kExitDone : protocol::kExitUnsafe;
  }

  /// An output was opened, or has come back, as a file that this process may not touch.
  bool needs_other_files() const {
    const auto away = outputs_.out_of_reach();
    return other_files_ ||
           std::any_of(away.begin(), away.end(),
                       [this](const protocol::Open& open) { return !cage_.covers(open); });
  }
  std::optional<Instant> next_wake() const {
    const auto wake = outputs_.next_wake();
    if (outputs_.out_of_reach().empty()) return wake;
    const Instant look = boot_now() + kLookAgain;
    return wake ? std::min(*wake, look) : look;
  }

  /// False: the daemon is gone.
  bool read_packets() {
    for (;;) {
      switch (protocol::receive_packet(socket_, packet_)) {
        case protocol::Received::nothing:
          return true;
        case protocol::Received::gone:
          return false;
        case protocol::Received::packet:
          obey();
      }
      outputs_.tick();
    }
  }

  void obey() {
    const Result<protocol::ToHost> message = protocol::decode_to_host(packet_);
    if (!message) {
      return tell(protocol::Failed{std::nullopt, protocol::Failure::packet, message.error().text});
    }
    std::visit([this](const auto& m) { obey(m); }, *message);
  }
  void obey(const protocol::Open& m) {
    waiting_.push_back(m);
    if (m.more) return;
    const std::vector<protocol::Open> all = std::exchange(waiting_, {});
    if (!cage_.asked()) {
      held_.limits.push_back(cage_.lock(all));
      tell(held_);
    }
    for (const protocol::Open& open : all) {
      if (cage_.covers(open)) {
        outputs_.open(open);
      } else {
        other_files_ = true;  // it is opened by the host that follows
      }
    }
  }
  void obey(const protocol::Apply& m) { outputs_.apply(m); }
  void obey(const protocol::Renew& m) { outputs_.renew(m); }
  void obey(const protocol::MakeSafe& m) { outputs_.make_safe(m.output); }
  void obey(const protocol::Close& m) { outputs_.close(m.output); }

  void obey(const protocol::Deliver& m) {
    protocol::Delivered answer{m.ticket, false, true, "the plugin is no channel"};
    if ((plugin_.kind & TW_KIND_CHANNEL) != 0) {
      const auto mouth = voice_.mouth(plugin_.name);
      mouth->options = PluginOptions(plugin_, m.wiring_json);
      std::int32_t result = TW_FAILED;
      {
        const Watchdog::Guard guard(watchdog_, {0, "deliver", protocol::kDeliverMsMax});
        result = plugin_.deliver(&mouth->host, m.wiring_json.c_str(), m.site_json.c_str(),
                                 m.message_json.c_str());
      }
      answer.delivered = result == TW_OK;
      answer.for_good = result == TW_BAD_OPTION || result == TW_REFUSED;
      answer.why = answer.delivered ? "" : voice_.why(*mouth, "the channel failed");
      outputs_.listen();
    }
    tell(answer);
  }

  /// A daemon that stands still has a full buffer: words are lost and counted, nothing waits.
  void tell(const protocol::ToDaemon& message) {
    if (protocol::send_packet(socket_, protocol::encode(message))) {
      if (lost_ == 0) return;
      const std::string words = std::to_string(lost_) + " packets to the daemon were lost";
      lost_ = 0;
      protocol::send_packet(
          socket_,
          protocol::encode(protocol::ToDaemon(protocol::Said{protocol::SayLevel::warning, words})));
      return;
    }
    ++lost_;
  }

  const tw_plugin& plugin_;
  Cage& cage_;
  protocol::Held held_;
  std::vector<protocol::Open> waiting_;
  bool other_files_ = false;
  Voice& voice_;
  Watchdog& watchdog_;
  int socket_;
  int terminate_;
  Alarm alarm_;
  Outputs outputs_;
  std::string packet_;
  std::uint64_t lost_ = 0;
};

/// On the watchdog's thread, while the main thread stands in a plugin.
[[noreturn]] void hand_over(SafeRunStarter& starter, int socket, const WatchedCall& call) {
  std::array<char, 256> packet{};
  const std::size_t length = protocol::encode_hung(
      packet.data(), packet.size(), protocol::Failure::hung, call.output, call.call, call.limit_ms);
  protocol::send_packet(socket, {packet.data(), length});
  if (!starter.nothing_open() && !starter.start(call.output)) {
    tell_stderr("cannot be made safe: a safe-run could not be started\n");
    const std::size_t unsafe =
        protocol::encode_hung(packet.data(), packet.size(), protocol::Failure::unsafe, call.output,
                              call.call, call.limit_ms);
    protocol::send_packet(socket, {packet.data(), unsafe});
  }
  ::_exit(protocol::kExitHung);
}

}  // namespace

int serve(const std::string& plugin_path, int socket, const LimitOrder& order) {
  const protocol::Held held{limit_process(order, socket)};
  protocol::send_packet(socket, protocol::encode(protocol::ToDaemon(held)));
  const int terminate = terminate_fd();
  SafeRunStarter starter(plugin_path, socket);
  starter.keep({});
  Watchdog watchdog([&](const WatchedCall& call) { hand_over(starter, socket, call); });
  Result<const tw_plugin*> plugin = Error{ErrorCode::broken, "not loaded"};
  {
    const Watchdog::Guard guard(watchdog, {0, "loading", protocol::kCallMsMax});
    plugin = load_plugin(plugin_path);
  }
  if (!plugin) {
    tell_stderr(plugin.error().text + "\n");
    protocol::send_packet(
        socket, protocol::encode(protocol::ToDaemon(
                    protocol::Failed{std::nullopt, protocol::Failure::load, plugin.error().text})));
    return protocol::kExitRefused;
  }
  Voice voice;
  Cage cage(**plugin, plugin_path);
  Server server(**plugin, cage, held, voice, watchdog, starter, socket, terminate);
  return server.run();
}

}  // namespace tubwarden::host
