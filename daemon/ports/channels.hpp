// The ways a grower is told: one message to every channel that wants its rank.
// Threading: all calls and reports on the loop's thread. Failure: a failed delivery is reported and
// counted; retries are the implementation's.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "core/alert/channel_plan.hpp"

namespace tubwarden {

struct Notice {
  /// An idempotency key: the same for each try of one message. The return's is the raise's with
  /// "/over" behind it.
  std::string key;
  AlertRank rank = AlertRank::today;
  std::string title;  ///< what and where, one line
  std::string text;   ///< since when, value and band, what to do
  bool over = false;  ///< the alert's return
};

class Channels {
 public:
  virtual ~Channels() = default;
  virtual void start(
      std::function<void(const std::string& channel, bool delivered, const std::string& why)>
          report) = 0;
  virtual void want(std::vector<ChannelPlan> channels) = 0;
  virtual void deliver(const Notice& notice) = 0;
};

}  // namespace tubwarden
