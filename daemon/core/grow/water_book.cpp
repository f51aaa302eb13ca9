#include "core/grow/water_book.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

constexpr double kHourS = 3600.0;
/// g: no mist to speak of.
constexpr double kHangingNoneG = 1e-6;
constexpr double kDryAirJKgK = 287.042;  // ASHRAE Fundamentals 2017 ch. 1
constexpr double kZeroCelsiusK = 273.15;

double sum_of(const BookHours& hours) { return std::accumulate(hours.begin(), hours.end(), 0.0); }

void shift(BookHours& hours, std::size_t by) {
  std::move_backward(hours.begin(), hours.end() - static_cast<std::ptrdiff_t>(by), hours.end());
  std::fill_n(hours.begin(), by, 0.0);
}

}  // namespace

WaterSums operator-(const WaterSums& now, const WaterSums& then) {
  return {now.covered_s - then.covered_s, now.uncovered_s - then.uncovered_s,
          now.fan_g - then.fan_g,         now.leak_g - then.leak_g,
          now.mist_g - then.mist_g,       now.dried_g - then.dried_g,
          now.per_pct_g - then.per_pct_g};
}

double taken_g_m3(const MoistAir& inside, const MoistAir& room) {
  const double dry_pa = kSeaLevel.value - vapour_pressure(room.t, room.rh).value;
  const double dry_kg_m3 = dry_pa / (kDryAirJKgK * (room.t.value + kZeroCelsiusK));
  return 1000.0 * dry_kg_m3 *
         (humidity_ratio(inside.t, inside.rh) - humidity_ratio(room.t, room.rh));
}

WaterAccount account_of(const WaterSums& between, const WaterDoubts& doubts) {
  WaterAccount a;
  a.covered = from_seconds(between.covered_s);
  a.since = from_seconds(between.covered_s + between.uncovered_s);
  a.fan_g = between.fan_g;
  a.leak_g = between.leak_g;
  a.mist_g = between.mist_g;
  a.dried_g = between.dried_g;
  a.gave_g = a.fan_g + a.leak_g + a.dried_g - a.mist_g;
  // A dehumidifier's rate is as nominal as a mister's.
  const double parts[] = {doubts.fan * a.fan_g, doubts.leak * a.leak_g, doubts.mist * a.mist_g,
                          doubts.mist * a.dried_g, doubts.humidity_pct * between.per_pct_g};
  double squares = 0.0;
  for (const double part : parts) squares += part * part;
  a.doubt_g = std::sqrt(squares);
  return a;
}

void WaterBook::outputs(const std::vector<std::string>& ids) {
  std::vector<OutputTime> next;
  for (const std::string& id : ids) {
    const auto old = std::find_if(state_.outputs.begin(), state_.outputs.end(),
                                  [&](const OutputTime& o) { return o.id == id; });
    next.push_back(old != state_.outputs.end() ? *old : OutputTime{id, 0.0, {}, {}});
  }
  state_.outputs = std::move(next);
  ran_.assign(ids.size(), 0.0);
}

void WaterBook::roll(double s) {
  const double passed = state_.hour_s + s;
  const double whole = std::floor(passed / kHourS);
  state_.hour_s = passed - whole * kHourS;
  if (whole < 1.0) return;
  const auto by = static_cast<std::size_t>(std::min(whole, static_cast<double>(kBookHours)));
  shift(state_.known, by);
  for (OutputTime& o : state_.outputs) shift(o.hours, by);
}

/// Grams of mist that leave unevaporated: m' = mist - m / hangs - a m, and a m leaves.
double WaterBook::carried_off(double s, const WaterFlow& flow) {
  if (flow.net_m3 <= 0.0 || (hanging_g_ < kHangingNoneG && flow.mist_g_h <= 0.0)) {
    hanging_g_ = 0.0;
    return 0.0;
  }
  const double leaves_s = (flow.fan_m3_h + flow.leak_m3_h) / flow.net_m3 / kHourS;
  const double goes_s = leaves_s + 1.0 / kMistHangsS;
  const double mist_g_s = flow.mist_g_h / kHourS;
  const double steady_g = mist_g_s / goes_s;
  const double then_g = steady_g + (hanging_g_ - steady_g) * std::exp(-goes_s * s);
  const double gone_g = mist_g_s * s - (then_g - hanging_g_);
  hanging_g_ = then_g;
  return gone_g * leaves_s / goes_s;
}

void WaterBook::pass(Duration time, const std::optional<WaterFlow>& flow) {
  const double s = seconds_of(time);
  if (s <= 0.0) return;
  roll(s);
  state_.known.front() += s;
  for (std::size_t i = 0; i < ran_.size(); ++i) {
    if (ran_[i] == 0.0) continue;
    state_.outputs[i].run_s += ran_[i];
    state_.outputs[i].hours.front() += ran_[i];
    ran_[i] = 0.0;
  }
  WaterSums& sums = state_.sums;
  if (!flow) {
    sums.uncovered_s += s;
    return;
  }
  const double h = s / kHourS;
  sums.covered_s += s;
  const double out_m3_h = flow->fan_m3_h + flow->leak_m3_h;
  const double off_g = out_m3_h > 0.0 ? carried_off(s, *flow) / out_m3_h : 0.0;
  sums.fan_g += flow->fan_m3_h * (flow->taken_g_m3 * h + off_g);
  sums.leak_g += flow->leak_m3_h * (flow->taken_g_m3 * h + off_g);
  sums.mist_g += flow->mist_g_h * h;
  sums.dried_g += flow->dried_g_h * h;
  sums.per_pct_g += out_m3_h * flow->per_pct_g_m3 * h;
}

void WaterBook::mark(const std::string& tub, double given_ml) {
  forget(tub);
  state_.marks.push_back({tub, state_.sums, given_ml});
}

void WaterBook::forget(const std::string& tub) {
  std::erase_if(state_.marks, [&](const WaterMark& m) { return m.tub == tub; });
}

bool WaterBook::marked(const std::string& tub) const { return mark_of(tub) != nullptr; }

void WaterBook::refilled(std::size_t output) {
  ENSURE(output < state_.outputs.size());
  OutputTime& o = state_.outputs[output];
  o.refilled_at_s = o.run_s;
}

void WaterBook::restore(const WaterBookState& kept, Duration ago) {
  std::vector<std::string> ids;
  for (const OutputTime& o : state_.outputs) ids.push_back(o.id);
  const std::vector<WaterMark> marks = std::move(state_.marks);
  state_ = kept;
  outputs(ids);
  const double off_s = std::max(0.0, seconds_of(ago));
  roll(off_s);
  state_.sums.uncovered_s += off_s;
  for (const WaterMark& m : marks) {
    if (!marked(m.tub)) mark(m.tub, m.given_ml);
  }
}

std::optional<WaterAccount> WaterBook::account(const std::string& tub,
                                               const WaterDoubts& doubts) const {
  const WaterMark* from = mark_of(tub);
  if (!from) return std::nullopt;
  return account_of(state_.sums - from->at, doubts);
}

const WaterMark* WaterBook::mark_of(const std::string& tub) const {
  for (const WaterMark& m : state_.marks) {
    if (m.tub == tub) return &m;
  }
  return nullptr;
}

double WaterBook::day_s(std::size_t output) const {
  ENSURE(output < state_.outputs.size());
  return sum_of(state_.outputs[output].hours);
}

double WaterBook::day_known_s() const { return sum_of(state_.known); }

}  // namespace tubwarden
