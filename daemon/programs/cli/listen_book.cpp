#include "programs/cli/listen_book.hpp"

namespace tubwarden::cli {

std::optional<Duration> HeardTopic::every() const {
  if (live < 2) return std::nullopt;
  return (last_live - first_live) / static_cast<Duration::rep>(live - 1);
}

void ListenBook::hear(std::string_view topic, std::string_view payload, bool retained, Instant at) {
  if (topic.starts_with('$')) return;
  ++messages_;
  if (topic.starts_with("tubwarden/")) {
    ++ours_;
    return;
  }
  const std::string name(topic);
  const auto known = topics_.find(name);
  if (known == topics_.end() && (topics_.size() == kTopicsMax || topic.size() > kTopicBytesMax)) {
    ++passed_over_;
    return;
  }
  HeardTopic& heard = known == topics_.end() ? topics_[name] : known->second;
  heard.payload = payload.substr(0, kPayloadBytesMax);
  heard.cut = payload.size() > kPayloadBytesMax;
  if (retained) {
    heard.retained = true;
    return;
  }
  if (heard.live == 0) heard.first_live = at;
  heard.last_live = at;
  ++heard.live;
}

}  // namespace tubwarden::cli
