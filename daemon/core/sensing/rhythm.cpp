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
      const Duration longest =
          *std::max_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(known));
      late_after_ =
          std::max<Duration>({*median_ * kLateIntervals, longest * kLateLongest, kLateAtLeast});
    }
  }
  last_ = now;
}

}  // namespace tubwarden
