#include "core/sensing/condensed_watch.hpp"

#include <algorithm>

namespace tubwarden {

void CondensedWatch::reading(double value, double top, Instant taken) {
  if (value < top - kWetRelease || (!since_ && value < top - kWetTop)) {
    forget();
    return;
  }
  if (!since_) since_ = taken;
}

void CondensedWatch::around(std::optional<double> celsius, bool misting, Instant now) {
  if (misting) {
    last_mist_ = now;
    // Fresh mist makes up for what the warming took.
    coldest_.reset();
    warmed_ = false;
  }
  if (!since_ || !celsius) return;
  coldest_ = coldest_ ? std::min(*coldest_, *celsius) : *celsius;
  if (!misting && *celsius >= *coldest_ + kWetWarming) warmed_ = true;
}

void CondensedWatch::forget() {
  since_.reset();
  coldest_.reset();
  warmed_ = false;
}

bool CondensedWatch::misted() const {
  return since_ && last_mist_ && *last_mist_ + kWetMistBefore >= *since_;
}

bool CondensedWatch::condensed(Instant now) const {
  const auto when = due();
  return when && now >= *when && (warmed_ || misted());
}

std::optional<Instant> CondensedWatch::due() const {
  if (!since_) return std::nullopt;
  const Instant top = *since_ + kWetAfter;
  return misted() && !warmed_ ? std::max(top, *last_mist_ + kWetAfter) : top;
}

}  // namespace tubwarden
