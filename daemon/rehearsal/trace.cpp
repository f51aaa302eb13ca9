#include "rehearsal/trace.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {

Trace::Trace(const WorldPlan& plan, Duration length, std::size_t columns)
    : columns_(columns), column_s_(seconds_of(length) / static_cast<double>(columns)) {
  ENSURE(columns > 0 && length > Duration{0});
  for (TracedQuantity& q : quantities_) {
    q.truth.resize(columns);
    q.sensed.resize(columns);
  }
  levels_.assign(plan.chamber.actuators.size(), kRest);
  runs_.assign(levels_.size(), std::vector<float>(columns, 0.0f));
}

std::size_t Trace::column(Duration at) const {
  return std::min(columns_ - 1, static_cast<std::size_t>(seconds_of(at) / column_s_));
}

/// The step that ended at a column's edge belongs to the column before.
void Trace::passed(Duration at, double lasted_s, const std::array<double, kQuantities>& truth) {
  const std::size_t c = column(std::max(Duration{0}, at - Duration{1}));
  for (std::size_t q = 0; q < kQuantities; ++q) quantities_[q].truth[c].take(truth[q]);
  for (std::size_t i = 0; i < levels_.size(); ++i) {
    if (levels_[i] != kRest) runs_[i][c] += static_cast<float>(lasted_s * levels_[i] / kRun);
  }
}

/// Of several bands within a column the last is told.
void Trace::kept(Duration at, const Bands& bands) {
  const std::size_t c = column(at);
  for (std::size_t q = 0; q < kQuantities; ++q) {
    auto& told = bands_[q];
    if (!told.empty() && told.back().column == c) told.pop_back();
    if (told.empty() ? !bands[q] : told.back().band == bands[q]) continue;
    told.push_back({c, bands[q]});
  }
}

void Trace::heard(Duration at, std::size_t, Quantity quantity, double value) {
  quantities_[index_of(quantity)].sensed[column(at)].take(value);
}

void Trace::switched(Duration, std::size_t actuator, Level level, double) {
  levels_[actuator] = level;
}

void Trace::alerted(Duration at, const AlertChange& change) {
  const AlertKey& key = change.alert.key;
  if (!change.raised) {
    for (auto told = alerts_.rbegin(); told != alerts_.rend(); ++told) {
      if (told->place != key.place || told->cause != key.cause) continue;
      if (!told->returned) told->returned = at;
      return;
    }
    return;
  }
  if (alerts_.size() >= kEventsMax) {
    ++alerts_untold_;
    return;
  }
  alerts_.push_back({at, key.place, key.cause, change.alert.text, std::nullopt});
}

}  // namespace tubwarden::rehearsal
