// One message to the broker: connect, publish at QoS 1, wait for its acknowledgement, leave.
// Threading: one thread a post, which blocks up to its limit; Paho's threads only copy and signal.
// Failure: a verdict with a sentence; nothing is kept for later.
#pragma once

#include <chrono>
#include <string>

#include "mqtt_site/site_broker.hpp"

namespace tubwarden::note {

struct Posted {
  enum class Verdict {
    heard,    ///< by the broker, which passes it on to whoever has subscribed, and says not to whom
    refused,  ///< the broker will not have us, or this topic
    failed,   ///< no connection, no answer
  };
  Verdict verdict = Verdict::failed;
  std::string why;
};

/// Never retained: a message is about a moment. MQTT 5 first, 3.1.1 for a broker that knows it
/// only.
Posted post(const SiteBroker& broker, const std::string& topic, const std::string& payload,
            std::chrono::milliseconds limit);

}  // namespace tubwarden::note
