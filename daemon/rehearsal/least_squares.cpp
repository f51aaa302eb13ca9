#include "rehearsal/least_squares.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <unsupported/Eigen/LevenbergMarquardt>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

/// What a round must still gain, relative, and move, of the prior's doubt.
constexpr double kEnough = 1e-6;

/// Residuals, and below them one of the prior for each x. Searched in deviations from the prior, so
/// that no figure's mere size says when to stop.
struct Slopes : Eigen::DenseFunctor<double> {
  explicit Slopes(const LeastSquaresTask& given)
      : DenseFunctor(static_cast<int>(given.start.size()),
                     static_cast<int>(given.residuals + given.start.size())),
        task(given) {}

  std::vector<double> figures(const InputType& z) const {
    std::vector<double> x = task.prior;
    for (std::size_t i = 0; i < x.size(); ++i) {
      x[i] += task.prior_error[i] * z[static_cast<Eigen::Index>(i)];
    }
    return x;
  }

  int operator()(const InputType& z, ValueType& out) const {
    task.residuals_at(figures(z), {out.data(), task.residuals});
    out.tail(z.size()) = z;
    return out.allFinite() ? 0 : -1;
  }

  int df(const InputType& z, JacobianType& slopes) const {
    ValueType here(values()), there(values());
    if ((*this)(z, here) != 0) return -1;
    InputType moved = z;
    for (Eigen::Index i = 0; i < z.size(); ++i) {
      moved[i] = z[i] + task.step;
      if ((*this)(moved, there) != 0) return -1;
      slopes.col(i) = (there - here) / task.step;
      moved[i] = z[i];
    }
    return 0;
  }

  const LeastSquaresTask& task;
};

std::vector<double> plain(const Eigen::MatrixXd& m) { return {m.data(), m.data() + m.size()}; }

}  // namespace

Result<LeastSquaresFound> least_squares(const LeastSquaresTask& task) {
  const std::size_t n = task.start.size();
  ENSURE(n > 0 && task.prior.size() == n && task.prior_error.size() == n && task.residuals > 0);
  Slopes slopes(task);
  Eigen::LevenbergMarquardt<Slopes> search(slopes);
  search.setFtol(kEnough);
  search.setXtol(kEnough);
  Eigen::VectorXd z(static_cast<Eigen::Index>(n));
  for (std::size_t i = 0; i < n; ++i) {
    z[static_cast<Eigen::Index>(i)] = (task.start[i] - task.prior[i]) / task.prior_error[i];
  }
  const Error none{ErrorCode::refused, "no set of figures explains this history"};
  auto state = search.minimizeInit(z);
  LeastSquaresFound found;
  while (state != Eigen::LevenbergMarquardtSpace::ImproperInputParameters &&
         state != Eigen::LevenbergMarquardtSpace::UserAsked && found.rounds < task.rounds_max) {
    ++found.rounds;
    state = search.minimizeOneStep(z);
    if (state != Eigen::LevenbergMarquardtSpace::Running) break;
  }
  Eigen::VectorXd residuals(slopes.values());
  Eigen::MatrixXd jacobian(slopes.values(), slopes.inputs());
  if (slopes(z, residuals) != 0 || slopes.df(z, jacobian) != 0) return none;
  const Eigen::MatrixXd information = jacobian.transpose() * jacobian;
  const Eigen::LDLT<Eigen::MatrixXd> solver(information);
  if (solver.info() != Eigen::Success || !solver.isPositive()) return none;
  found.covariance = plain(solver.solve(Eigen::MatrixXd::Identity(z.size(), z.size())));
  for (std::size_t i = 0; i < n * n; ++i) {
    found.covariance[i] *= task.prior_error[i / n] * task.prior_error[i % n];
  }
  found.x = slopes.figures(z);
  found.residuals = plain(residuals.head(static_cast<Eigen::Index>(task.residuals)));
  return found;
}

}  // namespace tubwarden::rehearsal
