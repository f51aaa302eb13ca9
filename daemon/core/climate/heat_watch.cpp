#include "core/climate/heat_watch.hpp"

namespace tubwarden {
namespace {

/// K: a bed that has not cooled so far is no reason to suspect anything.
constexpr double kCooled = 0.2;
/// Slots: so long the more must have lasted without a break, and so long lately the bed must have
/// gone on falling: a probe in the middle of a bed is late by an hour (common practice, no source).
constexpr std::size_t kThroughout = 5;
constexpr std::size_t kAnswered = 2;

}  // namespace

void HeatWatch::forget() { *this = HeatWatch{}; }

double HeatWatch::given_between(std::size_t end) const {
  double kelvin = 0.0;
  for (std::size_t i = end + 1 - kStretch; i <= end; ++i) kelvin += slots_[i].given;
  return kelvin;
}

std::optional<double> HeatWatch::room_between(std::size_t end, bool warmest) const {
  std::optional<double> found;
  for (std::size_t i = end - kStretch; i <= end; ++i) {
    const auto& room = slots_[i].room;
    if (!room) return std::nullopt;
    if (!found || (warmest ? *room > *found : *room < *found)) found = room;
  }
  return found;
}

bool HeatWatch::more_throughout(std::size_t end, double than) const {
  for (std::size_t i = end + 1 - kThroughout; i <= end; ++i) {
    if (slots_[i].given <= than) return false;
  }
  return true;
}

std::optional<HeatWatch::Nothing> HeatWatch::judge(std::size_t end) const {
  if (end < 2 * kStretch) return std::nullopt;
  const Slot& from = slots_[end - kStretch];
  const double changed = slots_[end].value - from.value;
  if (changed > -kCooled) return std::nullopt;
  // A late probe falls on for a while: what still falls after hours of more has not answered.
  if (slots_[end].value > slots_[end - kAnswered].value - kCooled / 4.0) return std::nullopt;
  const double given = given_between(end);
  std::optional<Nothing> found;
  for (std::size_t then = kStretch; then + kStretch <= end; ++then) {
    const Slot& from_then = slots_[then - kStretch];
    // A colder bed loses less, and a warmer room takes less.
    if (from_then.value < from.value - kAlike / 2) continue;
    const auto coldest = room_between(end, false);
    const auto warmest = room_between(then, true);
    const bool rooms = coldest && warmest;
    if (rooms && *coldest < *warmest - kAlike) continue;
    const double given_then = given_between(then);
    if (!more_throughout(end, given_then / kStretch)) continue;
    const double expected = given - given_then;
    if (expected < (rooms ? kMore : kMoreUnknown)) continue;
    const double came = changed - (slots_[then].value - from_then.value);
    // One stretch that did worse by less is enough to believe the heater.
    if (came >= kNothing * expected) return std::nullopt;
    if (!found || expected > found->expected) found = Nothing{expected, came};
  }
  return found;
}

std::optional<HeatWatch::Nothing> HeatWatch::reading(double value, std::optional<double> room,
                                                     Instant now) {
  if (!begun_) {
    begun_ = now;
    given_ = 0.0;
  }
  const Duration passed = now - *begun_;
  if (passed >= 2 * kSlot) {  // nobody looked for too long
    forget();
    begun_ = now;
  } else if (passed >= kSlot && readings_ > 0) {
    slots_.push_back({given_, sum_ / readings_, room});
    if (slots_.size() > kSlots) slots_.pop_front();
    begun_ = now;
    given_ = sum_ = 0.0;
    readings_ = 0;
    sum_ += value;
    ++readings_;
    if (slots_.size() < 2) return std::nullopt;
    const auto last = judge(slots_.size() - 1);
    return last && judge(slots_.size() - 2) ? last : std::nullopt;
  }
  sum_ += value;
  ++readings_;
  return std::nullopt;
}

}  // namespace tubwarden
