// The grower's hand on an air or on one output, for a while; each ends by itself. Attend: hands are
// in the tub, all outputs of its air rest and alerts are quiet. Keep-at: one output is held at rest
// or running. Trial: one output runs once, within its limits. Threading: plain values.
// Failure: none.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "base/time.hpp"
#include "core/output/output_plan.hpp"

namespace tubwarden {

enum class HandKind { attend, keep_at, trial };
std::string_view name_of(HandKind kind);
std::optional<HandKind> hand_kind_named(std::string_view name);

/// No hand is longer than this: what should last is configuration.
inline constexpr Duration kHandLongest = hours(24);

struct Hand {
  HandKind kind = HandKind::attend;
  std::string actuator;  ///< its id; empty with attend
  Level level = kRest;   ///< kRest or kRun; kRun with trial
  Instant until{};
  std::string tub;  ///< whose grower asked
};

/// One hand a kind and output; a new one takes the place of the old.
inline bool same_place(const Hand& a, const Hand& b) {
  return a.kind == b.kind && a.actuator == b.actuator;
}

}  // namespace tubwarden
