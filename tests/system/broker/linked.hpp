// A PahoBroker on a loop that the test turns, and all that it told.
// Threading: the test's thread is the loop's. Failure: none; tests look at what is kept here.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "parts/parts.hpp"
#include "shell/broker/paho_broker.hpp"
#include "shell/loop/board_clock.hpp"

namespace tubwarden {

class Linked {
 public:
  boost::asio::io_context& loop;
  BoardClock clock;
  std::vector<BrokerMessage> messages;
  std::vector<std::string> downs;
  int ups = 0;
  int foreign_calls = 0;  ///< handlers called on another thread than the loop's
  std::function<void(const BrokerMessage&)> on_message;
  std::unique_ptr<PahoBroker> broker;

  Linked(boost::asio::io_context& l, BrokerLink link) : loop(l) {
    if (link.client_id.empty()) link.client_id = "tubwarden-test";
    link.retry_first = milliseconds(50);
    link.retry_longest = milliseconds(200);
    broker = std::make_unique<PahoBroker>(std::move(link), hooks(), clock);
  }

  void start(std::set<std::string> topics) {
    broker->want(std::move(topics));
    const auto mine = [this] {
      if (std::this_thread::get_id() != test_thread_) ++foreign_calls;
    };
    broker->start({[this, mine](const BrokerMessage& m) {
                     mine();
                     messages.push_back(m);
                     if (on_message) on_message(m);
                   },
                   [this, mine] {
                     mine();
                     ++ups;
                   },
                   [this, mine](const std::string& why) {
                     mine();
                     downs.push_back(why);
                   }});
  }

  bool turn_until(const std::function<bool()>& sign,
                  std::chrono::milliseconds limit = std::chrono::seconds(15)) {
    const auto end = parts::Steady::now() + limit;
    while (!sign() && parts::Steady::now() < end) {
      loop.restart();
      loop.run_for(std::chrono::milliseconds(2));
    }
    return sign();
  }

  /// Up, and its subscriptions known to the broker: `topic` is published until it is heard.
  bool heard(const parts::Mosquitto& mosquitto, const std::string& topic,
             const std::string& payload) {
    return turn_until([&] {
      if (!broker->is_up()) return false;
      parts::publish(mosquitto, topic, payload);
      return turn_until([&] { return find(topic, payload).has_value(); },
                        std::chrono::milliseconds(200));
    });
  }

  std::optional<BrokerMessage> find(const std::string& topic, const std::string& payload) const {
    for (const BrokerMessage& m : messages) {
      if (m.topic == topic && m.payload == payload) return m;
    }
    return std::nullopt;
  }

 private:
  LoopHooks hooks() {
    return {[this](std::function<void()> work) { boost::asio::post(loop, std::move(work)); },
            [this](Duration delay, std::function<void()> work) {
              auto timer = std::make_shared<boost::asio::steady_timer>(loop, delay);
              timer->async_wait([timer, work = std::move(work)](boost::system::error_code error) {
                if (!error) work();
              });
            }};
  }
  std::thread::id test_thread_ = std::this_thread::get_id();
};

}  // namespace tubwarden
