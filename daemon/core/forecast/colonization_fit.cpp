#include "core/forecast/colonization_fit.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <unsupported/Eigen/LevenbergMarquardt>
#include <utility>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr int kFigures = 3;  // ln half, ln (scale / half), bend
/// Nothing beyond these is a jar's: half an hour to three years; a leap to a slope; a slow end to
/// an abrupt one.
constexpr double kLow[kFigures] = {-4.0, -4.6, -0.6};
constexpr double kHigh[kFigures] = {7.0, 0.0, 2.5};
/// The logistic (1) and Gompertz's curve (0) lie one error from the middle.
constexpr double kBendMiddle = 0.5, kBendError = 0.5;
constexpr double kSlopeStep = 1e-5;
constexpr int kRoundsMost = 60;
/// So many looks is the belief in kEyeError worth.
constexpr double kEyeWorth = 5.0;
constexpr unsigned kCurves = 1000;
/// Drawn wider than the covariance says, so that the tails are met.
constexpr double kWiden = 1.5;

using Figures = Eigen::Vector3d;

GrownCurve curve_of(const Figures& x) { return {std::exp(x[0]), std::exp(x[0] + x[1]), x[2]}; }

/// Gompertz's curve is the limit at 0, where the formula has none.
double away_from_0(double v) { return std::abs(v) < 1e-9 ? 1e-9 : v; }

/// A figure within its bounds from a number without: a sigmoid, so that the search needs none.
double bounded(int i, double z) { return kLow[i] + (kHigh[i] - kLow[i]) / (1.0 + std::exp(-z)); }
double unbounded(int i, double x) {
  const double share = std::clamp((x - kLow[i]) / (kHigh[i] - kLow[i]), 1e-3, 1.0 - 1e-3);
  return std::log(share / (1.0 - share));
}

/// Of each look, and of the three beliefs below them, each over its own error.
Eigen::VectorXd misses(const Figures& x, std::span<const WarmLook> looks,
                       const GrownBelief& belief) {
  const auto n = static_cast<Eigen::Index>(looks.size());
  Eigen::VectorXd out(n + kFigures);
  const GrownCurve curve = curve_of(x);
  for (Eigen::Index i = 0; i < n; ++i) {
    const WarmLook& look = looks[static_cast<std::size_t>(i)];
    out[i] = (curve.grown(look.warm_days) - look.grown) / kEyeError;
  }
  out[n] =
      std::log(curve.warm_days(belief.full_means) / belief.full.median) / belief.full.log_error;
  out[n + 1] = (x[1] - std::log(belief.steepness.median)) / belief.steepness.log_error;
  out[n + 2] = (x[2] - kBendMiddle) / kBendError;
  return out;
}

struct GrownSlopes : Eigen::DenseFunctor<double> {
  GrownSlopes(std::span<const WarmLook> seen, const GrownBelief& believed)
      : DenseFunctor(kFigures, static_cast<int>(seen.size()) + kFigures),
        looks(seen),
        belief(believed) {}

  static Figures figures(const InputType& z) {
    return {bounded(0, z[0]), bounded(1, z[1]), bounded(2, z[2])};
  }
  int operator()(const InputType& z, ValueType& out) const {
    out = misses(figures(z), looks, belief);
    return out.allFinite() ? 0 : -1;
  }
  int df(const InputType& z, JacobianType& slopes) const {
    for (int i = 0; i < kFigures; ++i) {
      InputType up = z, down = z;
      up[i] += kSlopeStep;
      down[i] -= kSlopeStep;
      slopes.col(i) = (misses(figures(up), looks, belief) - misses(figures(down), looks, belief)) /
                      (2.0 * kSlopeStep);
    }
    return slopes.allFinite() ? 0 : -1;
  }

  std::span<const WarmLook> looks;
  const GrownBelief& belief;
};

Eigen::Matrix3d covariance_at(const Figures& x, std::span<const WarmLook> looks,
                              const GrownBelief& belief) {
  Eigen::MatrixXd slopes(static_cast<Eigen::Index>(looks.size()) + kFigures, kFigures);
  for (int i = 0; i < kFigures; ++i) {
    Figures up = x, down = x;
    up[i] += kSlopeStep;
    down[i] -= kSlopeStep;
    slopes.col(i) = (misses(up, looks, belief) - misses(down, looks, belief)) / (2.0 * kSlopeStep);
  }
  return (slopes.transpose() * slopes).ldlt().solve(Eigen::Matrix3d::Identity());
}

/// The i-th number of van der Corput's row in a base, 0..1: points that fill a cube evenly.
double even_share(unsigned i, unsigned base) {
  double share = 0.0, part = 1.0;
  for (; i > 0; i /= base) {
    part /= base;
    share += part * (i % base);
  }
  return share;
}

Figures normal_point(unsigned i) {
  const double r1 = std::sqrt(-2.0 * std::log(even_share(i, 2)));
  const double r2 = std::sqrt(-2.0 * std::log(even_share(i, 5)));
  const double a1 = 2.0 * std::numbers::pi * even_share(i, 3);
  return {r1 * std::cos(a1), r1 * std::sin(a1),
          r2 * std::cos(2.0 * std::numbers::pi * even_share(i, 7))};
}

/// How well x goes with looks and beliefs, as a logarithm. The eye's error is itself not known
/// well: as drawn from a scaled inverse chi-squared distribution of kEyeWorth looks, which is
/// summed over in closed form.
double log_merit(const Figures& x, std::span<const WarmLook> looks, const GrownBelief& belief) {
  const Eigen::VectorXd m = misses(x, looks, belief);
  const auto n = static_cast<Eigen::Index>(looks.size());
  const double seen = m.head(n).squaredNorm();
  return -0.5 * (kEyeWorth + static_cast<double>(n)) * std::log1p(seen / kEyeWorth) -
         0.5 * m.tail(kFigures).squaredNorm();
}

/// Curves drawn about the best by its covariance, each weighed by its merit over the density it was
/// drawn with (importance sampling).
std::vector<AllowedCurve> allowed_about(const Figures& best, const Eigen::Matrix3d& covariance,
                                        std::span<const WarmLook> looks,
                                        const GrownBelief& belief) {
  const Eigen::Matrix3d spread = Eigen::LLT<Eigen::Matrix3d>(covariance).matrixL();
  std::vector<AllowedCurve> found;
  std::vector<double> merits;
  for (unsigned i = 1; i <= kCurves; ++i) {
    const Figures u = normal_point(i);
    const Figures x = best + kWiden * (spread * u);
    bool within = true;
    for (int k = 0; k < kFigures; ++k) within = within && x[k] > kLow[k] && x[k] < kHigh[k];
    if (!within) continue;
    merits.push_back(log_merit(x, looks, belief) + 0.5 * u.squaredNorm());
    found.push_back({curve_of(x), 0.0});
  }
  if (found.empty()) return found;
  const double most = std::ranges::max(merits);
  double sum = 0.0;
  for (double& merit : merits) sum += merit = std::exp(merit - most);
  for (std::size_t i = 0; i < found.size(); ++i) found[i].weight = merits[i] / sum;
  return found;
}

}  // namespace

double GrownCurve::grown(double warm_days) const {
  const double v = away_from_0(bend), s = 2.0 * scale * -std::expm1(-v * std::log(2.0)) / v;
  const double reach = std::min((half - warm_days) / s, 700.0);
  const double base = std::expm1(v * std::log(2.0)) * std::exp(reach);
  return base <= -1.0 ? 0.0 : std::exp(-std::log1p(base) / v);
}

double GrownCurve::warm_days(double share) const {
  const double v = away_from_0(bend), s = 2.0 * scale * -std::expm1(-v * std::log(2.0)) / v;
  const double left = std::expm1(-v * std::log(share)) / std::expm1(v * std::log(2.0));
  return std::max(half - s * std::log(left), 1e-6 * half);
}

WarmSpan GrownFit::reaches(double share) const {
  std::vector<std::pair<double, double>> at;
  at.reserve(allowed.size());
  for (const AllowedCurve& c : allowed) at.emplace_back(c.curve.warm_days(share), c.weight);
  std::ranges::sort(at);
  const auto below = [&](double part) {
    double sum = 0.0;
    for (const auto& [days, weight] : at) {
      sum += weight;
      if (sum >= part) return days;
    }
    return at.back().first;
  };
  return {below(0.1), below(0.5), below(0.9)};
}

std::optional<GrownFit> fit_grown(std::span<const WarmLook> looks, const GrownBelief& belief) {
  ENSURE(belief.full.median > 0.0 && belief.steepness.median > 0.0);
  GrownSlopes slopes(looks, belief);
  Eigen::LevenbergMarquardt<GrownSlopes> search(slopes);
  Figures start(0.0, std::log(belief.steepness.median), kBendMiddle);
  start[0] = std::log(belief.full.median / curve_of(start).warm_days(belief.full_means));
  Eigen::VectorXd z(kFigures);
  for (int i = 0; i < kFigures; ++i) z[i] = unbounded(i, start[i]);
  auto state = search.minimizeInit(z);
  int rounds = 0;
  while (state != Eigen::LevenbergMarquardtSpace::ImproperInputParameters && rounds < kRoundsMost) {
    ++rounds;
    state = search.minimizeOneStep(z);
    if (state != Eigen::LevenbergMarquardtSpace::Running) break;
  }
  const Figures x = GrownSlopes::figures(z);
  const Eigen::Matrix3d c = covariance_at(x, looks, belief);
  if (!x.allFinite() || !c.allFinite() || (c.diagonal().array() <= 0.0).any()) return std::nullopt;
  return GrownFit{curve_of(x), allowed_about(x, c, looks, belief)};
}

}  // namespace tubwarden
