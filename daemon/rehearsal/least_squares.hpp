// Weighted least squares with a prior, by Levenberg and Marquardt's method as Eigen has it.
// Threading: pure. Failure: an Error where the residuals are no numbers or nothing is found within
// the rounds allowed.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::rehearsal {

struct LeastSquaresTask {
  /// Fills `out`, `residuals` long, each over its own standard deviation. The same x gives the
  /// same.
  std::function<void(std::span<const double> x, std::span<double> out)> residuals_at;
  std::size_t residuals = 0;
  /// Where the search begins, and what is believed of x before: `prior` +- `prior_error`.
  std::vector<double> start, prior, prior_error;
  /// For the slopes, in units of `prior_error`; residuals are to be nearly straight over it.
  double step = 1e-2;
  int rounds_max = 40;
};

struct LeastSquaresFound {
  std::vector<double> x;
  std::vector<double> residuals;   ///< at x, the prior's not among them
  std::vector<double> covariance;  ///< of x, by rows
  int rounds = 0;
};

Result<LeastSquaresFound> least_squares(const LeastSquaresTask& task);

}  // namespace tubwarden::rehearsal
