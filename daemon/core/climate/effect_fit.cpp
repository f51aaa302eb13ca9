#include "core/climate/effect_fit.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

/// Fewer readings tell nothing.
constexpr double kReadingsLeast = 12;
/// Time constants until a filter's beginning is forgotten.
constexpr double kSettles = 4.0;
/// Readings that follow one another err alike: their errors are counted this much larger (common
/// practice, no source).
constexpr double kErrorsAlike = 2.0;
/// An output that has moved less than this share of a quantum is left out.
constexpr double kIdle = 0.01;
constexpr double kStepS = 5.0;

/// The share of a first-order change that is done after `s`.
double done(double s, double time_constant) { return 1.0 - std::exp(-s / time_constant); }

/// Solves in place by Gauss-Jordan with the largest pivot; false where it has no answer.
template <std::size_t N>
bool invert(std::array<std::array<double, N>, N>& a, std::array<std::array<double, N>, N>& inverse,
            std::size_t n) {
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) inverse[i][j] = i == j ? 1.0 : 0.0;
  }
  for (std::size_t col = 0; col < n; ++col) {
    std::size_t pivot = col;
    for (std::size_t row = col + 1; row < n; ++row) {
      if (std::fabs(a[row][col]) > std::fabs(a[pivot][col])) pivot = row;
    }
    if (std::fabs(a[pivot][col]) < 1e-9) return false;
    std::swap(a[pivot], a[col]);
    std::swap(inverse[pivot], inverse[col]);
    const double by = a[col][col];
    for (std::size_t j = 0; j < n; ++j) {
      a[col][j] /= by;
      inverse[col][j] /= by;
    }
    for (std::size_t row = 0; row < n; ++row) {
      const double f = a[row][col];
      if (row == col || f == 0.0) continue;
      for (std::size_t j = 0; j < n; ++j) {
        a[row][j] -= f * a[col][j];
        inverse[row][j] -= f * inverse[col][j];
      }
    }
  }
  return true;
}

}  // namespace

void EffectFit::ran(const std::array<double, kOutputs>& moved,
                    const std::array<double, kOutputs>& most, Duration passed) {
  const double all_s = seconds_of(passed);
  if (all_s <= 0.0) return;
  const int steps = std::clamp(static_cast<int>(std::ceil(all_s / kStepS)), 1, 60);
  const double s = all_s / steps;
  const double fades = done(s, traits_.fades_s);
  const double shows = done(s, traits_.lag_s);
  for (std::size_t i = 0; i < kOutputs; ++i) {
    if (moved[i] == 0.0 && in_air_[i] == 0.0 && shown_[i] == 0.0) continue;
    for (int step = 0; step < steps; ++step) {
      in_air_[i] += moved[i] / steps - fades * in_air_[i];
      if (moved[i] != 0.0) in_air_[i] = std::clamp(in_air_[i], -most[i], most[i]);
      shown_[i] += shows * (in_air_[i] - shown_[i]);
    }
    if (std::fabs(in_air_[i]) + std::fabs(shown_[i]) < 1e-9 * traits_.quantum) {
      in_air_[i] = shown_[i] = 0.0;
    }
  }
}

void EffectFit::reading(double value, Instant now) {
  if (last_ && now - *last_ < traits_.apart) return;
  Row row{};
  std::copy(shown_.begin(), shown_.end(), row.begin());
  row[kN - 1] = value;
  if (!first_) {
    first_ = last_ = now;
    slow_ = row;
    slower_ = {};
    return;
  }
  const double passed = seconds_of(now - *last_);
  const double keeps = std::exp(-passed / traits_.memory_s);
  const double follows = done(passed, traits_.quick_s);
  last_ = now;
  for (std::size_t i = 0; i < kN; ++i) {
    slow_[i] += follows * (row[i] - slow_[i]);
    row[i] -= slow_[i];
    slower_[i] += follows * (row[i] - slower_[i]);
    row[i] -= slower_[i];
  }
  // Until the filters have settled they tell of their own beginning.
  if (seconds_of(now - *first_) < kSettles * traits_.quick_s) return;
  ++readings_;
  weight_ = keeps * weight_ + 1.0;
  for (std::size_t i = 0; i < kN; ++i) {
    for (std::size_t j = 0; j < kN; ++j) {
      moments_[i][j] = keeps * moments_[i][j] + row[i] * row[j];
    }
  }
}

void EffectFit::forget() {
  first_.reset();
  last_.reset();
  weight_ = readings_ = 0.0;
  moments_ = {};
}

std::optional<EffectFit::Share> EffectFit::share(std::size_t output) const {
  if (output >= kOutputs || readings_ < kReadingsLeast) return std::nullopt;
  // Each column in its own scale, so that the pivots tell what can be told apart.
  std::array<std::size_t, kN> used{};
  Row scale{};
  std::size_t n = 0, at = kN;
  for (std::size_t i = 0; i + 1 < kN; ++i) {
    const double spread = std::sqrt(moments_[i][i] / weight_);
    if (spread < kIdle * traits_.quantum) continue;
    if (i == output) at = n;
    scale[n] = spread;
    used[n++] = i;
  }
  if (at == kN) return std::nullopt;
  std::array<Row, kN> a{}, inverse{};
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      a[i][j] = moments_[used[i]][used[j]] / (weight_ * scale[i] * scale[j]);
    }
  }
  if (!invert(a, inverse, n)) return std::nullopt;
  constexpr std::size_t y = kN - 1;
  double left = moments_[y][y] / weight_;
  double value = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    double b = 0.0;
    for (std::size_t j = 0; j < n; ++j) {
      b += inverse[i][j] * moments_[used[j]][y] / (weight_ * scale[j]);
    }
    left -= b * moments_[used[i]][y] / (weight_ * scale[i]);
    if (i == at) value = b / scale[i];
  }
  // A column that varies evenly over a range r spreads by r / sqrt(12); a step's own error
  // likewise.
  const double alone = scale[at] / std::sqrt(std::max(inverse[at][at], 1e-12));
  Share share;
  share.value = value;
  share.quantum = traits_.quantum;
  share.moves = std::sqrt(12.0) * alone;
  const double noise2 = std::max(left, 0.0) + traits_.quantum * traits_.quantum / 12.0;
  const double freedom = std::max(weight_ - static_cast<double>(n) - 1.0, 1.0);
  share.error = kErrorsAlike * std::sqrt(noise2 / freedom) / alone;
  if (share.moves < kQuanta * traits_.quantum) return std::nullopt;
  return share;
}

}  // namespace tubwarden
