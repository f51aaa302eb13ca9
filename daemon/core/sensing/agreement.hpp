// Whether several sensors of one quantity agree, and which of them do not.
// Threading: pure function; AgreementTimer has one owner. Failure: none.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "base/time.hpp"

namespace tubwarden {

/// They may differ for this long: a draught, a mist on its way (common practice, no source).
inline constexpr Duration kDisagreeAfter = minutes(10);

struct Voice {
  double value = 0.0;     ///< kept unit
  double accuracy = 0.0;  ///< plus or minus
  bool at_least = false;  ///< it stands at the top of its range: the truth may be higher
  bool out = false;       ///< the answer: it says something else than the others
};

/// Two agree when they differ by no more than the sum of their accuracies. Marks those that agree
/// with fewer than half of the others. Two that differ are both out: nothing says which of them
/// lies. At most kVoicesMax are looked at.
void find_outliers(std::span<Voice> voices);
inline constexpr std::size_t kVoicesMax = 16;

/// The on-delay of one sensor's disagreement; it ends at once.
class AgreementTimer {
 public:
  void judge(bool out, Instant now);
  bool disagrees(Instant now) const { return since_ && now >= *since_ + kDisagreeAfter; }
  std::optional<Instant> due() const;
  /// Since when it has said something else.
  std::optional<Instant> since() const { return since_; }

 private:
  std::optional<Instant> since_;
};

}  // namespace tubwarden
