#include "core/sensing/rhythm.hpp"

#include <algorithm>

namespace tubwarden {

void Rhythm::heard(Instant now) {
  if (last_ && now - *last_ < kSameMessage) return;
  if (last_) {
    intervals_[count_ % kKept] = now - *last_;
    ++count_;
    const std::size_t known = std::min(count_, kKept);
    if (known >= kLearnedBy) {
      std::array<Duration, kKept> sorted = intervals_;
      const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(known / 2);
      std::nth_element(sorted.begin(), middle, sorted.begin() + static_cast<std::ptrdiff_t>(known));
      median_ = *middle;
      longest_ =
          *std::max_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(known));
    }
  }
  last_ = now;
}

std::optional<Duration> Rhythm::late_after() const {
  if (!median_) return std::nullopt;
  return std::max<Duration>({*median_ * kLateIntervals, longest_ * kLateLongest, kLateAtLeast});
}

}  // namespace tubwarden
