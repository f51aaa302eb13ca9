#include "core/climate/slow_duty.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr double kSubstrateJKgK = 3300.0;
constexpr double kUsualWatts = 15.0;
constexpr double kUsualKg = 5.0;
/// The bed is to come most of the way in this time: a probe in the middle of it is an hour late
/// (assumed: half of 8 cm at the diffusivity of water), a period has its own half.
constexpr double kClosesH = 1.0;
/// What is lost is taken up in this time.
constexpr double kHeldH = 3.0;
/// Together they look a quarter of an hour ahead.
constexpr Duration kNear = minutes(4);
constexpr Duration kFar = minutes(24);
/// A longer gap says nothing of the time between.
constexpr Duration kGap = minutes(10);

double smoothed(double was, double value, Duration passed, Duration over) {
  return value + (was - value) * std::exp(-seconds_of(passed) / seconds_of(over));
}

}  // namespace

double substrate_rise(double watts, double kg) {
  const double w = watts > 0.0 && kg > 0.0 ? watts : kUsualWatts;
  const double mass = watts > 0.0 && kg > 0.0 ? kg : kUsualKg;
  return 3600.0 * w / (mass * kSubstrateJKgK);
}

void SlowDuty::held(double k_per_h) {
  if (std::isfinite(k_per_h)) held_ = k_per_h;
}

void SlowDuty::follow(double value, const Band& band, const Reach& reach, bool learns,
                      Instant now) {
  const Duration passed = told_ ? now - *told_ : Duration{0};
  if (!told_ || passed > kGap) {
    near_ = far_ = value;
  } else {
    near_ = smoothed(near_, value, passed, kNear);
    far_ = smoothed(far_, value, passed, kFar);
  }
  told_ = now;
  const double short_of = band.middle() - near_;
  const double wanted = (short_of - (near_ - far_)) / kClosesH;
  // Far from the band the outputs run as they can, and what they would hold there is not asked.
  const double full = held_ + wanted;
  const bool spent =
      (full >= reach.heat && short_of > 0.0) || (full <= -reach.cool && short_of < 0.0);
  if (learns && passed <= kGap && std::fabs(short_of) <= band.width() && !spent) {
    held_ += wanted * seconds_of(passed) / 3600.0 / kHeldH;
  }
  if (learns) held_ = std::clamp(held_, -reach.cool, reach.heat);
  rise_ = std::clamp(held_ + wanted, -reach.cool, reach.heat);
}

DutyCycle::Now DutyCycle::ask(double share, const DutyPlan& plan, Duration shortest_run,
                              Instant now) {
  ENSURE(plan.period > Duration{0});
  // A period in which nothing is asked is none: what is asked first need not wait for its end.
  const bool idle =
      share_ <= 0.0 && from_seconds(share * seconds_of(plan.period)) >= shortest_run && share > 0.0;
  if (!began_ || idle || now >= *began_ + plan.period || now < *began_) {
    const Duration most = plan.period * static_cast<int>(plan.most) / 1000;
    share_ = std::clamp(share, 0.0, plan.most / 1000.0);
    const Duration due = owed_ + from_seconds(share_ * seconds_of(plan.period));
    run_ = due >= std::max(shortest_run, Duration{1}) ? std::min(due, most) : Duration{0};
    owed_ = share_ > 0.0 ? std::clamp(due - run_, Duration{0}, most) : Duration{0};
    began_ = now;
  }
  const bool runs = now < *began_ + run_;
  return {runs, *began_ + (runs ? run_ : plan.period), share_};
}

}  // namespace tubwarden
