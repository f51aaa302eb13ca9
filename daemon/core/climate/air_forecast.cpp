#include "core/climate/air_forecast.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

/// How what is learned may wander: a deviation of 0.08 in a day, a second's worth squared.
constexpr double kLearnedWalk = 0.08 * 0.08 / 86400.0;
constexpr double kStep = 1.0;  // s: finer than any lag that matters
/// A silence longer than this tells nothing about what happened in it.
constexpr Duration kLongestSilence = minutes(10);

}  // namespace

void AirForecast::forget() {
  known_ = false;
  drift_ = 0.0;
  pending_ = 0.0;
  swing_ = 0.0;
}

double AirForecast::error() const { return std::sqrt(std::max(p_[0][0], 0.0)); }

void AirForecast::advance(const AirDrive& drive, Instant now) {
  if (known_ && now - heard_ > kLongestSilence) forget();
  if (known_) {
    double left = seconds_of(now - told_);
    while (left > 1e-9) {
      const double s = std::min(left, kStep);
      step(drive, s);
      left -= s;
    }
  }
  told_ = now;
}

/// One explicit step of the model and of its covariance.
void AirForecast::step(const AirDrive& drive, double s) {
  const double out = traits_.release_s > 0.0 ? 1.0 - std::exp(-s / traits_.release_s) : 1.0;
  pending_ += drive.input_per_s * s;
  const double released = pending_ * out;
  pending_ -= released;
  swing_ += traits_.swing * released;
  const double swung_back = swing_ * (1.0 - std::exp(-s / traits_.swing_s));
  swing_ -= swung_back;
  const double moved = (1.0 + traits_.swing) * released - swung_back;
  const double a = drive.exchange_per_s;
  const double kept = std::exp(-a * s);
  const double follows = 1.0 - std::exp(-s / lag_s_);
  const double exchanged = (value_ - drive.outside) * (1.0 - kept);
  const double before = value_;
  value_ += drift_ * s + input_share_ * moved - exchanged;
  const double behind = 0.5 * (before + value_) - shown_;
  shown_ += behind * follows;

  // P' = F P F^T + Q; only value and shown value depend on the others.
  const double by_lag = -behind * (s / lag_s_) * (1.0 - follows);
  const auto was = p_;
  for (std::size_t j = 0; j < kStates; ++j) {
    p_[0][j] = kept * was[0][j] + s * was[2][j] + moved * was[3][j];
    p_[1][j] = follows * was[0][j] + (1.0 - follows) * was[1][j] + by_lag * was[4][j];
  }
  for (auto& row : p_) {
    const double of_value = row[0];
    row[0] = kept * of_value + s * row[2] + moved * row[3];
    row[1] = follows * of_value + (1.0 - follows) * row[1] + by_lag * row[4];
  }
  const double walked = traits_.still_walk * traits_.still_walk * s;
  const double by_exchange = traits_.exchange_error * exchanged;
  const double by_input = traits_.input_error * input_share_ * released;
  p_[0][0] += walked + by_exchange * by_exchange + by_input * by_input;
  p_[2][2] += traits_.drift_walk * traits_.drift_walk * s;
  p_[3][3] += kLearnedWalk * s;
  p_[4][4] += kLearnedWalk * s;

  past_s_ += s;
  if (past_s_ >= kStep) {
    past_[past_count_++ % kPast] = shown_;
    past_s_ = 0.0;
  }
}

AirForecast::Learned AirForecast::learned() const {
  return {input_share_, std::sqrt(std::max(p_[3][3], 0.0)), lag_s_,
          std::sqrt(std::max(p_[4][4], 0.0))};
}

void AirForecast::learned(const Learned& known) {
  input_share_ = std::clamp(known.share, traits_.share_least, traits_.share_most);
  lag_s_ = std::clamp(known.lag_s, traits_.share_least * traits_.lag_s,
                      traits_.share_most * traits_.lag_s);
  for (std::size_t state : {3, 4}) {
    for (std::size_t i = 0; i < kStates; ++i) p_[state][i] = p_[i][state] = 0.0;
  }
  p_[3][3] = known.share_error * known.share_error;
  p_[4][4] = known.lag_error * known.lag_error;
}

void AirForecast::begin(double value, Instant now) {
  known_ = true;
  told_ = now;
  value_ = shown_ = value;
  drift_ = 0.0;
  past_count_ = 0;
  past_s_ = 0.0;
  const double of_input = p_[3][3] > 0.0 ? p_[3][3] : traits_.share_error * traits_.share_error;
  const double of_lag = p_[4][4] > 0.0 ? p_[4][4] : traits_.lag_error * traits_.lag_error;
  p_ = {};
  const double first = 4.0 * traits_.noise * traits_.noise + 1.0;
  p_[0][0] = p_[0][1] = p_[1][0] = p_[1][1] = first;
  p_[2][2] = 25.0 * traits_.drift_walk * traits_.drift_walk;
  p_[3][3] = of_input;
  p_[4][4] = of_lag;
}

void AirForecast::reading(double value, Instant now, bool clean) {
  heard_ = now;
  if (!known_) return begin(value, now);
  const auto late = static_cast<std::size_t>(std::lround(traits_.dead_s / kStep));
  const std::size_t back = std::min({late, past_count_, kPast});
  const double shown = back == 0 ? shown_ : past_[(past_count_ - back) % kPast];
  const double error = value - shown;
  const double noise = traits_.noise * traits_.noise;
  const double spread = p_[1][1] + noise;
  std::array<double, kStates> gain{};
  for (std::size_t i = 0; i < kStates; ++i) gain[i] = p_[i][1] / spread;
  // What is not learned now keeps its value and what it is known by.
  if (!clean) gain[3] = gain[4] = 0.0;
  value_ = std::clamp(value_ + gain[0] * error, 0.0, traits_.value_most);
  shown_ += gain[1] * error;
  drift_ = std::clamp(drift_ + gain[2] * error, -traits_.drift_most, traits_.drift_most);
  input_share_ =
      std::clamp(input_share_ + gain[3] * error, traits_.share_least, traits_.share_most);
  lag_s_ = std::clamp(lag_s_ * std::exp(std::clamp(gain[4] * error, -0.2, 0.2)),
                      traits_.share_least * traits_.lag_s, traits_.share_most * traits_.lag_s);
  for (std::size_t i = 0; i < back; ++i) {
    past_[(past_count_ - 1 - i) % kPast] += gain[1] * error;
  }
  // Joseph's form, which holds for any gain: (I - K H) P (I - K H)^T + K R K^T.
  const auto was = p_;
  for (std::size_t i = 0; i < kStates; ++i) {
    for (std::size_t j = 0; j < kStates; ++j) {
      p_[i][j] += gain[i] * gain[j] * spread - gain[i] * was[1][j] - was[i][1] * gain[j];
    }
  }
}

double AirForecast::swing_of_pending(double s) const {
  const double gone = std::exp(-s / traits_.swing_s);
  if (traits_.release_s <= 0.0) return traits_.swing * gone;
  const double releases = 1.0 / traits_.release_s;
  // Equal times would divide by nothing; this near to it the difference is none.
  double fades = 1.0 / traits_.swing_s;
  if (std::fabs(releases - fades) < 1e-6) fades += 1e-5;
  return traits_.swing * releases / (releases - fades) *
         (std::exp(-s * fades) - std::exp(-s * releases));
}

double AirForecast::response(Duration ahead) const {
  const double s = std::max(0.0, seconds_of(ahead));
  const double out = traits_.release_s > 0.0 ? 1.0 - std::exp(-s / traits_.release_s) : 1.0;
  return out + swing_of_pending(s);
}

double AirForecast::exchanged(double v, const AirDrive& drive, double s) const {
  v += input_share_ * drive.input_per_s * s;
  const double a = drive.exchange_per_s;
  if (a * s < 1e-6) return v + drift_ * s;
  const double rests = drive.outside + drift_ / a;
  return rests + (v - rests) * std::exp(-a * s);
}

double AirForecast::ahead(Duration ahead, const AirDrive& drive, Duration holds,
                          const AirDrive& then) const {
  const double whole = std::max(0.0, seconds_of(ahead));
  const double held = std::clamp(seconds_of(holds), 0.0, whole);
  const double out = traits_.release_s > 0.0 ? 1.0 - std::exp(-whole / traits_.release_s) : 1.0;
  const double swings =
      swing_ * (std::exp(-whole / traits_.swing_s) - 1.0) + pending_ * swing_of_pending(whole);
  const double v = value_ + input_share_ * (pending_ * out + swings);
  return exchanged(exchanged(v, drive, held), then, whole - held);
}

}  // namespace tubwarden
