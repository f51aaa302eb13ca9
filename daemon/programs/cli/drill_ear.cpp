#include "programs/cli/drill_ear.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <mutex>
#include <thread>
#include <vector>

#include "shell/broker/loop_hooks.hpp"
#include "shell/broker/paho_broker.hpp"
#include "shell/loop/board_clock.hpp"

namespace tubwarden::cli {
namespace {

namespace asio = boost::asio;

/// A drill lasts minutes, and relays say little.
constexpr std::size_t kHeardMax = 10'000;

}  // namespace

struct DrillEar::Impl {
  struct Heard {
    std::string topic, payload;
    Instant at;
  };
  asio::io_context loop{1};
  asio::executor_work_guard<asio::io_context::executor_type> open{loop.get_executor()};
  BoardClock clock;
  std::unique_ptr<PahoBroker> link;
  mutable std::mutex mutex;
  std::vector<Heard> heard;
  bool up = false;
  std::optional<Instant> lost;
  std::thread thread;

  void hear(const BrokerMessage& message) {
    if (message.retained) return;  // of unknown age
    const std::lock_guard lock(mutex);
    if (heard.size() < kHeardMax)
      heard.push_back({message.topic, message.payload, message.arrived});
  }
};

DrillEar::DrillEar(const BrokerSettings& broker, std::set<std::string> topics)
    : impl_(std::make_unique<Impl>()) {
  Impl& s = *impl_;
  BrokerLink link;
  link.url = broker.url;
  link.user_file = broker.user_file;
  link.ca_file = broker.ca_file;
  link.cert_file = broker.cert_file;
  link.key_file = broker.key_file;
  link.client_id = fmt::format("tubwarden-drill-{}", ::getpid());
  link.retry_longest = seconds(2);
  s.link = std::make_unique<PahoBroker>(std::move(link), hooks_on(s.loop), s.clock);
  s.link->want(std::move(topics));
  s.link->start({[&s](const BrokerMessage& message) { s.hear(message); },
                 [&s] {
                   const std::lock_guard lock(s.mutex);
                   s.up = true;
                 },
                 [&s](const std::string&) {
                   const std::lock_guard lock(s.mutex);
                   if (s.up) s.lost = s.clock.now();
                   s.up = false;
                 }});
  s.thread = std::thread([&s] { s.loop.run(); });
}

DrillEar::~DrillEar() {
  impl_->open.reset();
  impl_->loop.stop();
  impl_->thread.join();
}

bool DrillEar::up() const {
  const std::lock_guard lock(impl_->mutex);
  return impl_->up;
}

std::optional<Instant> DrillEar::lost() const {
  const std::lock_guard lock(impl_->mutex);
  return impl_->lost;
}

std::optional<Instant> DrillEar::heard(const std::string& topic, const std::string& payload,
                                       Instant since) const {
  const std::lock_guard lock(impl_->mutex);
  for (const Impl::Heard& h : impl_->heard) {
    if (h.at > since && h.topic == topic && h.payload == payload) return h.at;
  }
  return std::nullopt;
}

}  // namespace tubwarden::cli
