// The ways a grower is told: one message to the channels it names.
// Threading: all calls and reports on the loop's thread. Failure: a failed delivery is tried again
// with a growing pause and reported; what is given up is reported, too.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "base/time.hpp"
#include "core/alert/channel_plan.hpp"

namespace tubwarden {

/// What a message says of its alert; `alive` is a heartbeat, `test` is `alerts test`.
enum class NoticeState { raised, over, seen, alive, test };
constexpr std::string_view name_of(NoticeState state) {
  switch (state) {
    case NoticeState::raised:
      return "raised";
    case NoticeState::over:
      return "over";
    case NoticeState::seen:
      return "seen";
    case NoticeState::alive:
      return "alive";
    case NoticeState::test:
      return "test";
  }
  return "";
}
constexpr NoticeState notice_state_named(std::string_view name) {
  for (NoticeState s :
       {NoticeState::over, NoticeState::seen, NoticeState::alive, NoticeState::test}) {
    if (name_of(s) == name) return s;
  }
  return NoticeState::raised;
}

struct Notice {
  /// An idempotency key: the same for each try of one message. The return's is the raise's with
  /// "/over" behind it.
  std::string key;
  AlertRank rank = AlertRank::today;
  std::string title;  ///< what and where, one line
  std::string text;   ///< value and band, what to do, since when
  NoticeState state = NoticeState::raised;
  /// Whom it is for, by id; empty: every channel that wants its rank.
  std::vector<std::string> to{};
  /// Tried once, and only where nothing waits: a heartbeat that comes late is none.
  bool fleeting = false;
  Duration age{0};  ///< since it was written: one of an earlier run is not tried for ever
};

/// What became of a message on one channel.
struct Delivery {
  enum class Outcome {
    delivered,
    failing,   ///< it was tried several times, and is tried on
    given_up,  ///< it is not tried any more
  };
  std::string channel;
  std::string key;
  Outcome outcome = Outcome::delivered;
  std::string why;  ///< of a failure
};

/// How a channel is doing.
struct ChannelView {
  std::string id;
  std::size_t waiting = 0;
  std::uint64_t delivered = 0, given_up = 0;  ///< since the start
  int failures = 0;                           ///< in a row
  std::string why;                            ///< of the last of them
  Duration next_try{0};                       ///< from now; zero: none waits for its turn
};

class Channels {
 public:
  virtual ~Channels() = default;
  virtual void start(std::function<void(const Delivery&)> report) = 0;
  virtual void want(std::vector<ChannelPlan> channels) = 0;
  virtual void deliver(const Notice& notice) = 0;
  virtual std::vector<ChannelView> views() const { return {}; }
};

}  // namespace tubwarden
