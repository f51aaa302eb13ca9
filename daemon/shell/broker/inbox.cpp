#include "shell/broker/inbox.hpp"

#include <utility>

namespace tubwarden {

bool Inbox::put(std::string_view topic, std::string_view payload, bool retained,
                Instant arrived) noexcept {
  const std::lock_guard guard(lock_);
  ++counts_.received;
  if (waiting_ >= limit_ || payload.size() > kPayloadBytesMax) {
    ++counts_.dropped;
    return false;
  }
  try {
    if (incoming_.used == incoming_.slots.size()) incoming_.slots.emplace_back();
    BrokerMessage& slot = incoming_.slots[incoming_.used];
    slot.topic.assign(topic);
    slot.payload.assign(payload);
    slot.retained = retained;
    slot.arrived = arrived;
  } catch (...) {  // no memory: the reading is lost, the daemon goes on
    ++counts_.dropped;
    return false;
  }
  ++incoming_.used;
  ++waiting_;
  return !std::exchange(awake_, true);
}

void Inbox::not_woken() noexcept {
  const std::lock_guard guard(lock_);
  awake_ = false;
}

bool Inbox::take(const std::function<void(const BrokerMessage&)>& each) {
  for (std::size_t done = 0; done < kBatch; ++done) {
    if (next_ == outgoing_.used) {
      const std::lock_guard guard(lock_);
      waiting_ -= outgoing_.used;
      outgoing_.used = next_ = 0;
      if (incoming_.used == 0) {
        awake_ = false;
        return false;
      }
      std::swap(incoming_, outgoing_);
    }
    each(outgoing_.slots[next_++]);
  }
  return true;
}

void Inbox::discard() {
  const std::lock_guard guard(lock_);
  counts_.dropped += waiting_ - next_;
  incoming_.used = outgoing_.used = next_ = 0;
  waiting_ = 0;
}

Inbox::Counts Inbox::counts() const {
  const std::lock_guard guard(lock_);
  return counts_;
}

}  // namespace tubwarden
