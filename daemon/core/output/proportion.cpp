#include "core/output/proportion.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {

namespace {
Duration share(Duration of, Level level) { return of * static_cast<int>(level) / 1000; }
}  // namespace

Proportion::Proportion(Duration period, Duration shortest_run)
    : period_(period), shortest_(shortest_run) {
  ENSURE(period > Duration{0});
  ENSURE(shortest_run >= Duration{0} && 2 * shortest_run <= period);
}

void Proportion::count(Instant now) {
  const Duration passed = std::clamp(now - counted_, Duration{0}, period_);
  counted_ = now;
  if (!between()) return;
  owed_ += share(passed, asked_) - (shown_ == kRun ? passed : Duration{0});
  owed_ = std::clamp(owed_, -period_, period_);
}

void Proportion::show(Level level, Instant now) {
  if (shown_ == level) return;
  shown_ = level;
  changed_ = now;
}

void Proportion::begin(Instant now) {
  const Duration length = run_end_ ? std::clamp(*run_end_ - now, Duration{0}, period_) : period_;
  period_end_ = now + length;
  show(owed_ + share(length, asked_) >= std::max(shortest_, Duration{1}) ? kRun : kRest, now);
}

std::optional<Instant> Proportion::rest_at() const {
  const Instant even = counted_ + owed_ + share(period_end_ - counted_, asked_);
  const Instant rest = std::max({even, changed_ + shortest_, counted_});
  return period_end_ - rest < std::max(shortest_, Duration{1}) ? std::nullopt : std::optional(rest);
}

Level Proportion::ask(Level asked, Duration run_left, Instant now) {
  ENSURE(asked <= kRun);
  count(now);
  const bool went_on = between();
  asked_ = asked;
  run_end_.reset();
  if (run_left > Duration{0}) run_end_ = now + run_left;
  if (!between()) {
    owed_ = Duration{0};
    show(asked, now);
  } else if (!went_on || (run_end_ && *run_end_ < period_end_)) {
    begin(now);
  } else {
    tick(now);
  }
  return shown_;
}

std::optional<Level> Proportion::tick(Instant now) {
  if (!between()) return std::nullopt;
  count(now);
  const Level before = shown_;
  const auto rest = rest_at();
  if (period_end_ <= now) {
    begin(now);
  } else if (shown_ == kRun && rest && *rest <= now) {
    show(kRest, now);
  }
  return shown_ == before ? std::nullopt : std::optional(shown_);
}

std::optional<Instant> Proportion::next_wake() const {
  if (!between()) return std::nullopt;
  const auto rest = rest_at();
  return shown_ == kRun && rest ? std::min(*rest, period_end_) : period_end_;
}

}  // namespace tubwarden
