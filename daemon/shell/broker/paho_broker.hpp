// The broker by Paho's MQTT client: clean start, MQTT 5 and 3.1.1 where that is refused, a retained
// last will, reconnecting for ever. QoS 0 both ways on purpose: TCP keeps order and loses nothing
// while the connection stands, a reading that is lost is followed by the next one, and a reading
// that waits for acknowledgements comes late (Nagle's algorithm and delayed acknowledgements make
// QoS 1 up to 88 ms slow, and cost broker and daemon four times the CPU).
// Threading: all calls and all handlers on the loop's thread; Paho's threads only copy and post.
// Failure: told by Handlers::down, once for a lost connection and once for each new reason that an
// attempt fails; never thrown. Nothing is buffered offline.
#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "base/time.hpp"
#include "ports/broker.hpp"
#include "ports/clock.hpp"

namespace tubwarden {

/// Where the broker is, who we are, and what it says of us when we are gone.
struct BrokerLink {
  std::string
      url;  ///< mqtt://host[:port] or mqtts://host[:port]; with TLS the host name is checked
  /// Two lines, name and password; read anew at each attempt.
  std::optional<std::string> user_file;
  std::optional<std::string> ca_file;  ///< PEM; without it the system's own authorities count
  std::optional<std::string> cert_file, key_file;  ///< PEM: our client certificate
  std::string client_id;                           ///< unique at this broker
  std::string will_topic;                          ///< empty: no will
  std::string will_payload;                        ///< retained by the broker when we vanish
  Duration keep_alive = seconds(15);
  Duration retry_first = milliseconds(500);  ///< doubles after each failed attempt
  Duration retry_longest = seconds(30);
  std::size_t inbox_limit = 4096;  ///< messages that wait for the loop; more are dropped, counted
};

/// How work comes to the loop.
struct LoopHooks {
  std::function<void(std::function<void()>)> post;             ///< any thread; in order
  std::function<void(Duration, std::function<void()>)> later;  ///< on the loop's thread
};

class PahoBroker final : public Broker {
 public:
  /// `clock` outlives the broker, and is read on Paho's thread too: each message's `arrived`.
  PahoBroker(BrokerLink link, LoopHooks loop, const Clock& clock);
  /// Disconnects in good order (no will is sent); waits at most a second.
  ~PahoBroker() override;

  void start(Handlers handlers) override;
  void want(std::set<std::string> topics) override;
  void publish(const std::string& topic, const std::string& payload, bool retain) override;
  bool is_up() const override;
  BrokerCounters counters() const override;

  /// 5, or 4 (which is MQTT 3.1.1) where this broker refused 5.
  int protocol() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
