// What outputs confirm on the broker, heard without the daemon: a drill cuts that one off.
// Threading: a thread of its own listens; calls from one other thread. Failure: a broker that
// cannot be reached is simply not up.
#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>

#include "base/time.hpp"
#include "settings/settings.hpp"

namespace tubwarden::cli {

class DrillEar {
 public:
  DrillEar(const BrokerSettings& broker, std::set<std::string> topics);
  ~DrillEar();
  DrillEar(const DrillEar&) = delete;
  DrillEar& operator=(const DrillEar&) = delete;

  bool up() const;
  /// When the link to the broker last went away.
  std::optional<Instant> lost() const;
  /// When a live `payload` was first heard on `topic` after `since`.
  std::optional<Instant> heard(const std::string& topic, const std::string& payload,
                               Instant since) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::cli
