// What the broker handed over and the loop has not yet looked at: bounded, counted, batched.
// Threading: put() from any thread, the rest on the loop's; a lock between. Failure: what is over
// the limit is dropped and counted, the oldest stay.
#pragma once

#include <cstdint>
#include <functional>
#include <mutex>
#include <string_view>
#include <vector>

#include "ports/broker.hpp"

namespace tubwarden {

class Inbox {
 public:
  /// A larger payload is dropped: no sensor has so much to say (64 KiB).
  static constexpr std::size_t kPayloadBytesMax = 64 * 1024;
  /// Messages handed on in one go, so that a flood leaves the loop time for its outputs.
  static constexpr std::size_t kBatch = 256;

  explicit Inbox(std::size_t limit) : limit_(limit) {}

  /// Keeps a copy. True: the loop sleeps, wake it (one waking for many messages).
  bool put(std::string_view topic, std::string_view payload, bool retained,
           Instant arrived) noexcept;

  /// The loop could not be woken after all: the next put() is to try again.
  void not_woken() noexcept;

  /// Hands on at most kBatch. True: there is more, come again.
  bool take(const std::function<void(const BrokerMessage&)>& each);

  /// Drops all that waits: it belongs to a connection that is gone.
  void discard();

  struct Counts {
    std::uint64_t received = 0, dropped = 0;
  };
  Counts counts() const;

 private:
  /// Slots are written over, not freed: their strings keep their room.
  struct Batch {
    std::vector<BrokerMessage> slots;
    std::size_t used = 0;
  };

  const std::size_t limit_;
  mutable std::mutex lock_;
  Batch incoming_;
  Batch outgoing_;        ///< the loop's own, but for its size in waiting_
  std::size_t next_ = 0;  ///< in outgoing_
  std::size_t waiting_ = 0;
  bool awake_ = false;
  Counts counts_;
};

}  // namespace tubwarden
