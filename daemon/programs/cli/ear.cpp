#include "programs/cli/ear.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <optional>

#include "programs/cli/broker_in.hpp"
#include "settings/settings.hpp"
#include "shell/broker/loop_hooks.hpp"
#include "shell/broker/paho_broker.hpp"
#include "shell/loop/board_clock.hpp"
#include "shell/loop/signal_watch.hpp"

namespace tubwarden::cli {
namespace {

namespace asio = boost::asio;

constexpr const char* kUsualBroker = "mqtt://127.0.0.1:1883";
constexpr Duration kTick = seconds(1);
/// The first connection stands by then, or is given up.
constexpr Duration kConnectWithin = seconds(20);

Result<BrokerSettings> broker_of(const BrokerChoice& wanted) {
  BrokerSettings broker;
  if (!wanted.config.empty()) {
    auto read = broker_in(wanted.config);
    if (!read.ok()) return read.error();
    broker = std::move(read).value();
  }
  if (!wanted.broker.empty()) broker.url = wanted.broker;
  if (broker.url.empty()) broker.url = kUsualBroker;
  const auto set = [](std::optional<std::string>& file, const std::string& given) {
    if (!given.empty()) file = given;
  };
  set(broker.user_file, wanted.user_file);
  set(broker.ca_file, wanted.ca_file);
  set(broker.cert_file, wanted.cert_file);
  set(broker.key_file, wanted.key_file);
  return broker;
}

/// One time of listening: the loop, the link, and what came.
class Ear {
 public:
  Ear(const BrokerSettings& broker, const Hearing& wanted) : wanted_(wanted), timer_(loop_) {
    BrokerLink link;
    link.url = broker.url;
    link.user_file = broker.user_file;
    link.ca_file = broker.ca_file;
    link.cert_file = broker.cert_file;
    link.key_file = broker.key_file;
    link.client_id = fmt::format("tubwarden-listen-{}", ::getpid());
    link_ = std::make_unique<PahoBroker>(std::move(link), hooks_on(loop_), clock_);
    heard_.url = broker.url;
  }

  Result<Heard> listen() {
    // A filter is wanted like a topic; it is subscribed once the link stands.
    link_->want({wanted_.topics});
    link_->start(
        {wanted_.hear, [this] { came_up(); }, [this](const std::string& why) { went_down(why); }});
    const SignalWatch signals(loop_, {[this](int) { end(); }, [] {}});
    wait(kConnectWithin);
    loop_.run();
    const BrokerCounters counters = link_->counters();
    heard_.dropped = counters.dropped;
    link_.reset();
    if (!began_ && failed_.empty()) failed_ = "ended before the broker answered";
    if (!failed_.empty()) return Error{ErrorCode::unavailable, failed_};
    if (counters.refused > 0) {
      return Error{ErrorCode::refused,
                   fmt::format("the broker at {} refuses to let us hear '{}'; name what this user "
                               "may hear with --under, or another user with --user-file",
                               heard_.url, wanted_.topics)};
    }
    return std::move(heard_);
  }

 private:
  void came_up() {
    if (began_) return;
    began_ = clock_.now();
    wait(std::min(kTick, wanted_.length));
  }

  void went_down(const std::string& why) {
    if (began_) {
      heard_.lost = why;
      return;
    }
    failed_ =
        fmt::format("no broker can be heard at {} ({}). Start it, or name another with --broker",
                    heard_.url, why);
    end();
  }

  void wait(Duration after) {
    timer_.expires_after(after);
    timer_.async_wait([this](boost::system::error_code code) {
      if (!code) turn();
    });
  }

  void turn() {
    if (!began_) return went_down("no answer");
    heard_.lasted = clock_.now() - *began_;
    const Duration left = wanted_.length - heard_.lasted;
    if (left <= Duration{0} || link_->counters().refused > 0) return end();
    if (wanted_.tick && !wanted_.tick(heard_.lasted, left)) return end();
    wait(std::min(kTick, left));
  }

  void end() {
    if (began_) heard_.lasted = clock_.now() - *began_;
    loop_.stop();
  }

  const Hearing& wanted_;
  asio::io_context loop_{1};
  asio::steady_timer timer_;
  BoardClock clock_;
  std::unique_ptr<PahoBroker> link_;
  std::optional<Instant> began_;
  std::string failed_;
  Heard heard_;
};

}  // namespace

Result<Heard> hear(const Hearing& wanted) {
  const auto broker = broker_of(wanted.broker);
  if (!broker.ok()) return broker.error();
  return Ear(*broker, wanted).listen();
}

}  // namespace tubwarden::cli
