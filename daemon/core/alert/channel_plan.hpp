// What the configuration says of a channel: which plugin tells the grower, and of which ranks.
// Threading: plain values. Failure: none; settings has checked what is here.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/alert/alert.hpp"

namespace tubwarden {

struct ChannelPlan {
  std::string id;
  std::string plugin;
  std::string wiring_json;       ///< the plugin's own options as one JSON object
  std::vector<AlertRank> ranks;  ///< empty: all
  /// Told only of what nobody has seen for so long; nothing: told at once.
  std::optional<Duration> after_unseen{};
  /// A regular message that all is alive; such a channel is told alerts only where it names ranks.
  std::optional<Duration> heartbeat{};
  bool operator==(const ChannelPlan&) const = default;
};

}  // namespace tubwarden
