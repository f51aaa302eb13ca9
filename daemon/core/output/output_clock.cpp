#include "core/output/output_clock.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {

using Kind = OutputAction::Kind;

namespace {
/// Three repeats within the time the output falls in: two may be lost.
constexpr int kRepeatsWithin = 3;
}  // namespace

OutputClock::OutputClock(Level safe, Duration repeat) : safe_(safe), repeat_(repeat) {
  ENSURE(safe <= kRun);
  ENSURE(repeat >= Duration{0});
}

OutputAction OutputClock::action(Kind kind, Instant now) const {
  OutputAction result;
  result.kind = kind;
  result.level = kind == Kind::make_safe ? safe_ : level_;
  result.sequence = sequence_;
  if (on_loan_) {
    result.lease_left = std::max(lease_end_ - now, Duration{0});
    if (run_end_) result.run_left = std::max(*run_end_ - now, Duration{0});
  }
  return result;
}

void OutputClock::plan_repeat(Instant now) {
  repeat_at_.reset();
  if (repeat_ > Duration{0} && level() != kRest) repeat_at_ = now + repeat_ / kRepeatsWithin;
}

OutputAction OutputClock::apply(Level level, Duration run, Duration lease, std::uint64_t sequence,
                                Instant now) {
  ENSURE(level <= kRun);
  if (sequence <= sequence_ || lease <= Duration{0}) {
    ++counters_.stale;
    return {};
  }
  sequence_ = sequence;
  on_loan_ = true;
  level_ = level;
  lease_end_ = now + lease;
  run_end_.reset();
  if (run > Duration{0} && level != kRest) run_end_ = now + run;
  plan_repeat(now);
  return action(Kind::apply, now);
}

bool OutputClock::renew(Duration lease, std::uint64_t sequence, Instant now) {
  if (!on_loan_ || sequence != sequence_ || lease <= Duration{0} || lease_end_ <= now) {
    ++counters_.stale;
    return false;
  }
  lease_end_ = now + lease;
  return true;
}

OutputAction OutputClock::tick(Instant now) {
  if (on_loan_ && lease_end_ <= now) {
    ++counters_.lapsed;
    fall(now);
    OutputAction safe = action(Kind::make_safe, now);
    safe.lease_over = true;
    return safe;
  }
  if (on_loan_ && run_end_ && *run_end_ <= now) {
    level_ = kRest;
    run_end_.reset();
    repeat_at_.reset();
    return action(Kind::rest, now);
  }
  if (repeat_at_ && *repeat_at_ <= now) {
    plan_repeat(now);
    return action(on_loan_ ? Kind::apply : Kind::make_safe, now);
  }
  return {};
}

OutputAction OutputClock::again(Instant now) {
  if (on_loan_ && lease_end_ > now) {
    if (!run_end_) {
      plan_repeat(now);
      return action(level_ == kRest ? Kind::rest : Kind::apply, now);
    }
    level_ = kRest;
    run_end_.reset();
    repeat_at_.reset();
    return action(Kind::rest, now);
  }
  const OutputAction due = tick(now);
  if (due.kind == Kind::make_safe) return due;
  plan_repeat(now);
  return action(Kind::make_safe, now);
}

void OutputClock::fall(Instant now) {
  on_loan_ = false;
  level_ = kRest;
  run_end_.reset();
  plan_repeat(now);
}

std::optional<Instant> OutputClock::next_wake() const {
  std::optional<Instant> wake = repeat_at_;
  const auto sooner = [&wake](Instant t) { wake = wake ? std::min(*wake, t) : t; };
  if (on_loan_) sooner(lease_end_);
  if (on_loan_ && run_end_) sooner(*run_end_);
  return wake;
}

}  // namespace tubwarden
