// tubwarden-iio-sensor: reads a sensor of the kernel at an interval, and publishes it.

#include <fmt/format.h>
#include <poll.h>
#include <sys/eventfd.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include "iio_sensor/device.hpp"
#include "iio_sensor/words.hpp"
#include "mqtt_relay/relay_link.hpp"
#include "mqtt_site/site_broker.hpp"
#include "shell/broker/broker_address.hpp"

namespace {

using namespace tubwarden;
using Steady = std::chrono::steady_clock;

/// A single missed answer of a sensor is common; so many rounds without any reading are a loss.
constexpr int kFailuresUntilGone = 3;
constexpr int kGoodbyeMs = 500;
/// Half as much again, and mosquitto's 5 s, until the broker misses a board that lost its power.
constexpr int kKeepAliveS = 5;

void say(const std::string& text) {
  std::fprintf(stderr, "tubwarden-iio-sensor: %s\n", text.c_str());
}

unsigned patience_s = 60;

void set_alarm() { ::alarm(patience_s); }

/// A driver that does not answer: the connection must not go on saying that we are here. The broker
/// sends the will, and the unit starts us anew.
extern "C" void out_of_patience(int) {
  static constexpr char kWords[] = "tubwarden-iio-sensor: the sensor's driver does not answer\n";
  [[maybe_unused]] const ssize_t told = ::write(STDERR_FILENO, kWords, sizeof kWords - 1);
  ::_exit(1);
}

Result<relay::LinkPlan> plan_of(const iio::Words& words) {
  const auto address = broker_address(words.broker);
  if (!address) return address.error();
  relay::LinkPlan plan;
  plan.server = address->server;
  plan.encrypted = address->encrypted;
  plan.ca_file = words.ca_file;
  plan.cert_file = words.cert_file;
  plan.key_file = words.key_file;
  if (words.user_file) {
    const auto user = read_user_file(*words.user_file);
    if (!user) return user.error();
    plan.user = user->name;
    plan.password = user->password;
  }
  plan.client_id = mqtt_client_id("sensor\n" + words.topic);
  plan.topic = words.state_topic();
  plan.safe_payload = iio::kGone;
  plan.now_topic = words.topic;
  plan.keep_alive_s = kKeepAliveS;
  return plan;
}

class Bridge {
 public:
  enum class State { unknown, here, gone };

  Bridge(const iio::Words& words, relay::LinkPlan plan, int wake)
      : words_(words), wake_(wake), link_(std::move(plan), handlers()) {}

  /// Reads once and tells the broker.
  void turn() {
    const iio::Air air = read();
    tell_once(air);
    failures_ = air.any() ? 0 : std::min(failures_ + 1, kFailuresUntilGone);
    if (failures_ == kFailuresUntilGone) state_ = State::gone;
    if (air.any()) state_ = State::here;
    tell_state();
    const auto expiry_s = std::chrono::ceil<std::chrono::seconds>(words_.every).count();
    if (air.any()) link_.publish_now(iio::payload(air), static_cast<std::uint32_t>(expiry_s));
  }

  /// What the broker does not know yet: after a change, and after each new connection.
  void tell_state() {
    if (fresh_.exchange(false)) told_ = State::unknown;
    if (told_ == state_) return;
    const char* const word = state_ == State::here ? iio::kHere : iio::kGone;
    if (link_.publish_surely(word, true, 0)) told_ = state_;
  }

  void leave() { link_.publish_surely(iio::kGone, true, kGoodbyeMs); }

 private:
  relay::Link::Handlers handlers() {
    relay::Link::Handlers handlers;
    handlers.reach = [this](bool yes, const std::string& why) {
      // Each attempt in vain is told of; a broker that is away for hours fills no journal.
      if (yes || why != std::exchange(last_why_, why))
        say(yes ? "connected to " + words_.broker : why);
      if (!yes) return;
      last_why_.clear();
      fresh_ = true;
      const std::uint64_t one = 1;
      [[maybe_unused]] const ssize_t woken = ::write(wake_, &one, sizeof one);
    };
    handlers.confirmed = [](const std::string&) {};
    handlers.warn = [](const std::string& text) { say(text); };
    return handlers;
  }

  iio::Air read() {
    const auto device = iio::find_device(words_.root, words_.device);
    iio::Air air;
    if (!device) {
      air.wrong.push_back(device.error().text);
      return air;
    }
    air = iio::read_air(*device, set_alarm);
    ::alarm(0);
    return air;
  }

  void tell_once(const iio::Air& air) {
    std::string text;
    for (const std::string& wrong : air.wrong) text += (text.empty() ? "" : "; ") + wrong;
    if (text == last_wrong_) return;
    say(text.empty() ? "all is read again" : text);
    last_wrong_ = text;
  }

  const iio::Words& words_;
  const int wake_;
  std::atomic<bool> fresh_{false};  ///< a new connection
  std::string last_why_;            ///< the link's worker's
  State state_ = State::unknown;    ///< until the first reading, or its failures
  State told_ = State::unknown;
  int failures_ = 0;
  std::string last_wrong_;
  relay::Link link_;
};

int publish(const iio::Words& words) {
  auto plan = plan_of(words);
  if (!plan) {
    say(plan.error().text);
    return 1;
  }
  sigset_t ends;
  sigemptyset(&ends);
  sigaddset(&ends, SIGTERM);
  sigaddset(&ends, SIGINT);
  sigprocmask(SIG_BLOCK, &ends, nullptr);
  std::signal(SIGALRM, out_of_patience);
  patience_s =
      static_cast<unsigned>(std::chrono::ceil<std::chrono::seconds>(words.patience).count());
  const int signals = ::signalfd(-1, &ends, SFD_CLOEXEC);
  const int wake = ::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
  if (signals < 0 || wake < 0) {
    say("no descriptor is left");
    return 1;
  }
  Bridge bridge(words, std::move(plan.value()), wake);
  auto next = Steady::now();
  for (;;) {
    const auto left = std::chrono::ceil<std::chrono::milliseconds>(next - Steady::now()).count();
    pollfd on[] = {{signals, POLLIN, 0}, {wake, POLLIN, 0}};
    ::poll(on, 2, static_cast<int>(std::max<std::int64_t>(left, 0)));
    if ((on[0].revents & POLLIN) != 0) break;
    if ((on[1].revents & POLLIN) != 0) {
      std::uint64_t count = 0;
      [[maybe_unused]] const ssize_t taken = ::read(wake, &count, sizeof count);
      bridge.tell_state();
    }
    if (Steady::now() < next) continue;
    bridge.turn();
    next = std::max(next + words.every, Steady::now());
  }
  bridge.leave();
  return 0;
}

int list(const iio::Words& words) {
  const auto all = iio::devices(words.root);
  if (all.empty()) {
    say(words.root + " shows no sensor");
    return 1;
  }
  for (const iio::Device& device : all) {
    const iio::Air air = iio::read_air(device, [] {});
    fmt::print("{} '{}'{}: {}\n", device.folder.filename().string(), device.name,
               device.label.empty() ? "" : " '" + device.label + "'", iio::payload(air));
    for (const std::string& wrong : air.wrong) fmt::print("  {}\n", wrong);
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  const auto words = iio::read_words(std::vector<std::string>(argv + 1, argv + argc));
  if (!words) {
    say(words.error().text);
    return 2;
  }
  switch (words->task) {
    case iio::Task::publish:
      return publish(*words);
    case iio::Task::list:
      return list(*words);
    case iio::Task::help:
      std::fputs(iio::help_page().c_str(), stdout);
      return 0;
  }
  return 2;
}
