// A time of listening to a broker, without a daemon: a connection of its own, which publishes
// nothing. Threading: blocks the caller until its time is over, or SIGINT. Failure: a broker that
// cannot be reached, or that refuses the subscription, is an Error with the way out.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "base/result.hpp"
#include "base/time.hpp"
#include "ports/broker.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct Hearing {
  BrokerChoice broker;
  std::string topics;  ///< a topic, or a filter
  Duration length{0};
  std::function<void(const BrokerMessage&)> hear;
  /// About each second, with how long it has been and what is left; false ends it.
  std::function<bool(Duration lasted, Duration left)> tick;
};

struct Heard {
  std::string url;
  Duration lasted{0};
  std::uint64_t dropped = 0;  ///< came faster than they were looked at
  std::string lost;           ///< why the connection went away meanwhile; empty: it stood
};

Result<Heard> hear(const Hearing& wanted);

}  // namespace tubwarden::cli
