#include "core/climate/air_forecast.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

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
  if (known_ && now - told_ > kLongestSilence) forget();
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

/// One explicit step of the model and of its covariance: P' = F P F^T + Q.
void AirForecast::step(const AirDrive& drive, double s) {
  const double out = traits_.release_s > 0.0 ? 1.0 - std::exp(-s / traits_.release_s) : 1.0;
  pending_ += drive.input_per_s * s;
  const double released = pending_ * out;
  pending_ -= released;
  swing_ += traits_.swing * released;
  const double swung_back = swing_ * (1.0 - std::exp(-s / traits_.swing_s));
  swing_ -= swung_back;
  const double kept = std::exp(-drive.exchange_per_s * s);
  const double follows = 1.0 - std::exp(-s / traits_.lag_s);
  const double exchanged = (value_ - drive.outside) * (1.0 - kept);
  const double before = value_;
  value_ += drift_ * s + (1.0 + traits_.swing) * released - swung_back - exchanged;
  shown_ += (0.5 * (before + value_) - shown_) * follows;

  const double f[3][3] = {{kept, 0.0, s}, {follows, 1.0 - follows, 0.0}, {0.0, 0.0, 1.0}};
  std::array<std::array<double, 3>, 3> fp{};
  std::array<std::array<double, 3>, 3> next{};
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) {
      for (std::size_t k = 0; k < 3; ++k) fp[i][j] += f[i][k] * p_[k][j];
    }
  }
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) {
      for (std::size_t k = 0; k < 3; ++k) next[i][j] += fp[i][k] * f[j][k];
    }
  }
  const double walked = traits_.still_walk * traits_.still_walk * s;
  const double by_exchange = traits_.exchange_error * exchanged;
  const double by_input = traits_.input_error * released;
  next[0][0] += walked + by_exchange * by_exchange + by_input * by_input;
  next[2][2] += traits_.drift_walk * traits_.drift_walk * s;
  p_ = next;

  past_s_ += s;
  if (past_s_ >= kStep) {
    past_[past_count_++ % kPast] = shown_;
    past_s_ = 0.0;
  }
}

void AirForecast::reading(double value, Instant now) {
  if (!known_) {
    known_ = true;
    told_ = now;
    value_ = shown_ = value;
    drift_ = 0.0;
    past_count_ = 0;
    past_s_ = 0.0;
    p_ = {};
    const double first = 4.0 * traits_.noise * traits_.noise + 1.0;
    p_[0] = {first, first, 0.0};
    p_[1] = {first, first, 0.0};
    p_[2][2] = 25.0 * traits_.drift_walk * traits_.drift_walk;
    return;
  }
  const auto late = static_cast<std::size_t>(std::lround(traits_.dead_s / kStep));
  const std::size_t back = std::min({late, past_count_, kPast});
  const double shown = back == 0 ? shown_ : past_[(past_count_ - back) % kPast];
  const double error = value - shown;
  const double spread = p_[1][1] + traits_.noise * traits_.noise;
  const std::array<double, 3> gain = {p_[0][1] / spread, p_[1][1] / spread, p_[2][1] / spread};
  value_ += gain[0] * error;
  shown_ += gain[1] * error;
  drift_ = std::clamp(drift_ + gain[2] * error, -traits_.drift_most, traits_.drift_most);
  for (std::size_t i = 0; i < back; ++i) {
    past_[(past_count_ - 1 - i) % kPast] += gain[1] * error;
  }
  const std::array<double, 3> row = p_[1];
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) p_[i][j] -= gain[i] * row[j];
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

double AirForecast::ahead(Duration ahead, const AirDrive& drive, Duration holds) const {
  const double whole = std::max(0.0, seconds_of(ahead));
  const double held = std::clamp(seconds_of(holds), 0.0, whole);
  const double out = traits_.release_s > 0.0 ? 1.0 - std::exp(-whole / traits_.release_s) : 1.0;
  const double swings =
      swing_ * (std::exp(-whole / traits_.swing_s) - 1.0) + pending_ * swing_of_pending(whole);
  double v = value_ + pending_ * out + swings;
  const double a = drive.exchange_per_s;
  if (a > 0.0 && held > 0.0) {
    const double rests = drive.outside + drift_ / a;
    v = rests + (v - rests) * std::exp(-a * held);
  } else {
    v += drift_ * held;
  }
  v += drive.input_per_s * held;
  return v + drift_ * (whole - held);
}

}  // namespace tubwarden
