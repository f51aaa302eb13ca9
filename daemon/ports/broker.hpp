// The message broker as the daemon sees it: subscribe, publish, and be told.
// Threading: all calls and all callbacks on the loop's thread. Failure: publish while away is
// dropped and counted; nothing is buffered offline, because a reading or a "run" of before must not
// come later.
#pragma once

#include <cstdint>
#include <functional>
#include <set>
#include <string>

#include "base/time.hpp"

namespace tubwarden {

struct BrokerMessage {
  std::string topic;
  std::string payload;
  bool retained = false;
  Instant arrived{};
};

struct BrokerCounters {
  std::uint64_t received = 0;  ///< messages handed over by the broker
  std::uint64_t dropped = 0;   ///< received, but our own queue was full
  std::uint64_t published = 0;
  std::uint64_t unsent = 0;  ///< wanted while the broker was away
  std::uint64_t connects = 0;
  std::uint64_t refused = 0;  ///< subscriptions the broker refused
};

class Broker {
 public:
  struct Handlers {
    std::function<void(const BrokerMessage&)> message;
    std::function<void()> up;
    std::function<void(const std::string& why)> down;
  };
  virtual ~Broker() = default;
  /// Starts connecting, for ever, with backoff. Once.
  virtual void start(Handlers handlers) = 0;
  /// The whole set wanted from now on: new ones are subscribed, others left. Survives reconnects.
  virtual void want(std::set<std::string> topics) = 0;
  virtual void publish(const std::string& topic, const std::string& payload, bool retain) = 0;
  virtual bool is_up() const = 0;
  virtual BrokerCounters counters() const = 0;
};

}  // namespace tubwarden
