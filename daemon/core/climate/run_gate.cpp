#include "core/climate/run_gate.hpp"

#include <algorithm>

namespace tubwarden {

RunGate::Granted RunGate::ask(bool wanted, bool yields, Instant now) {
  const Duration stood = now - since_;
  if (running_) {
    if (limits_.longest_run > Duration{0} && stood >= limits_.longest_run) {
      running_ = false;
      since_ = now;
      after_longest_ = true;
      if (!wanted) return {};
      return {false, Lock::longest_run, now + rest_now()};
    }
    if (!wanted && !yields && stood < limits_.shortest_run) {
      return {true, Lock::shortest_run, since_ + limits_.shortest_run};
    }
    if (!wanted) {
      running_ = false;
      since_ = now;
      return {};
    }
    return {true, Lock::none,
            limits_.longest_run > Duration{0} ? std::optional(since_ + limits_.longest_run)
                                              : std::nullopt};
  }
  if (!wanted) return {};
  if (stood < rest_now()) {
    return {false, after_longest_ ? Lock::longest_run : Lock::shortest_rest, since_ + rest_now()};
  }
  if (const auto until = start_limit_until(now)) return {false, Lock::starts_per_hour, until};
  begin(now);
  return {
      true, Lock::none,
      limits_.longest_run > Duration{0} ? std::optional(now + limits_.longest_run) : std::nullopt};
}

void RunGate::force(bool runs, Instant now) {
  if (runs && !running_) begin(now);
  if (!runs && running_) {
    running_ = false;
    since_ = now;
  }
}

void RunGate::begin(Instant now) {
  running_ = true;
  after_longest_ = false;
  since_ = now;
  starts_[start_count_ % starts_.size()] = now;
  ++start_count_;
}

Duration RunGate::rest_now() const {
  return after_longest_ ? std::max(limits_.shortest_rest, kRestAfterLongest)
                        : limits_.shortest_rest;
}

int RunGate::starts_last_hour(Instant now) const {
  const std::size_t kept = std::min(start_count_, starts_.size());
  int count = 0;
  for (std::size_t i = 0; i < kept; ++i) {
    if (now - starts_[(start_count_ - 1 - i) % starts_.size()] >= hours(1)) break;
    ++count;
  }
  return count;
}

std::optional<Instant> RunGate::start_limit_until(Instant now) const {
  const auto limit =
      static_cast<std::size_t>(std::clamp(limits_.starts_per_hour, 0, kStartsPerHourMax));
  if (limit == 0 || start_count_ < limit) return std::nullopt;
  const Instant until = starts_[(start_count_ - limit) % starts_.size()] + hours(1);
  return until > now ? std::optional(until) : std::nullopt;
}

}  // namespace tubwarden
