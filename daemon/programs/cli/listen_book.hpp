// What `listen` has heard, topic by topic, within limits that it counts.
// Threading: one owner. Failure: none; what is over a limit is counted.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "base/time.hpp"

namespace tubwarden::cli {

struct HeardTopic {
  std::string payload;  ///< the newest, at most ListenBook::kPayloadBytesMax of it
  bool cut = false;     ///< ... and it was longer
  std::uint64_t live = 0;
  bool retained = false;  ///< the broker kept one
  Instant first_live{}, last_live{};

  /// Mean time between live messages; nothing for fewer than two.
  std::optional<Duration> every() const;
};

class ListenBook {
 public:
  static constexpr std::size_t kTopicsMax = 200;
  static constexpr std::size_t kTopicBytesMax = 512;
  /// As much as a reading may have.
  static constexpr std::size_t kPayloadBytesMax = 8 * 1024;

  void hear(std::string_view topic, std::string_view payload, bool retained, Instant at);

  const std::map<std::string, HeardTopic>& topics() const { return topics_; }
  std::uint64_t messages() const { return messages_; }
  /// Messages on topics beyond the limits: not looked at.
  std::uint64_t passed_over() const { return passed_over_; }
  /// Messages under tubwarden/: what a daemon writes, no sensor.
  std::uint64_t ours() const { return ours_; }

 private:
  std::map<std::string, HeardTopic> topics_;
  std::uint64_t messages_ = 0, passed_over_ = 0, ours_ = 0;
};

}  // namespace tubwarden::cli
