#include "rehearsal/tub_fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "rehearsal/fit_course.hpp"
#include "rehearsal/fit_figures.hpp"
#include "rehearsal/least_squares.hpp"

namespace tubwarden::rehearsal {
namespace {

/// What a reading may be off before the first search has told: as far as a usual tub is from this
/// one. From search to search they shrink to what is left over.
constexpr double kFirstErrors[kQuantities] = {4.0, 0.4, 0.4, 100.0};
/// Never more sure of a reading than this, whatever the residuals say.
constexpr double kLeastErrors[kQuantities] = {0.03, 0.005, 0.005, 1.0};
/// A residual beyond so many errors counts ever less (Cauchy's loss): a hand in the tub, a lid.
constexpr double kBeyond = 3.0;
constexpr int kSearches = 5;
/// A history this long tells a day's swing from a mean.
constexpr double kSwingTold = 12 * 3600.0;
/// A figure is told when the history has at least halved the doubt of it, and it is known within a
/// factor of two either way, two errors wide.
constexpr double kDoubtLeft = 0.5;
const double kToldWithin = std::log(2.0);

Error too_little(const std::string& what) { return {ErrorCode::refused, what}; }

std::optional<Error> unfit(const TubHistory& history) {
  if (history.length_s < kFitShortestS) {
    return too_little(fmt::format("this history is {} long; at least {} are needed for a fit",
                                  spoken(from_seconds(history.length_s)),
                                  spoken(from_seconds(kFitShortestS))));
  }
  std::array<std::size_t, kQuantities> count{};
  for (const HeardReading& r : history.readings) {
    if (r.at_s >= kFitStageS) ++count[index_of(r.quantity)];
  }
  if (std::max(count[index_of(Quantity::humidity)], count[index_of(Quantity::co2)]) <
      kFitReadingsLeast) {
    return too_little(fmt::format(
        "this history has {} readings of humidity and {} of CO2 behind its first {}; at least {} "
        "of one are needed for a fit",
        count[index_of(Quantity::humidity)], count[index_of(Quantity::co2)],
        spoken(from_seconds(kFitStageS)), kFitReadingsLeast));
  }
  const auto runs = static_cast<std::size_t>(
      std::count_if(history.runs.begin(), history.runs.end(),
                    [](const HeardRun& run) { return run.to_s > kFitStageS; }));
  if (runs < kFitRunsLeast) {
    return too_little(
        fmt::format("this history is too quiet for a fit: {} runs of outputs, and at least {} are "
                    "needed, for only what is moved tells how it answers",
                    runs, kFitRunsLeast));
  }
  return std::nullopt;
}

/// How many residuals in a row tell one thing: 1 + 2 sum of their autocorrelations, up to the first
/// that is hardly one (Geyer's cut, simplified).
double alike_of(const std::vector<double>& r) {
  if (r.size() < 20) return 1.0;
  double mean = 0.0, whole = 0.0;
  for (double v : r) mean += v;
  mean /= static_cast<double>(r.size());
  for (double v : r) whole += (v - mean) * (v - mean);
  if (whole <= 0.0) return 1.0;
  double alike = 1.0;
  for (std::size_t lag = 1; lag < r.size() / 10; ++lag) {
    double sum = 0.0;
    for (std::size_t i = lag; i < r.size(); ++i) sum += (r[i] - mean) * (r[i - lag] - mean);
    const double share = sum / whole;
    if (share < 0.05) break;
    alike += 2.0 * share;
  }
  return alike;
}

/// The root of its weight: Cauchy's. A weight stands for a whole search, so that residuals stay
/// nearly straight in the figures.
double weight_root(double r) { return 1.0 / std::sqrt(1.0 + r * r / (kBeyond * kBeyond)); }

class Search {
 public:
  Search(const FitOrder& order, const TubHistory& history)
      : order_(order),
        course_(order, history),
        axes_(fit_axes(order, course_.signs())),
        weights_(course_.counted().size(), 1.0) {
    for (std::size_t q = 0; q < kQuantities; ++q) errors_[q] = kFirstErrors[q];
  }

  Result<TubFit> run() {
    std::vector<double> x;
    for (const FitAxis& axis : axes_) x.push_back(axis.prior());
    LeastSquaresFound found;
    int rounds = 0;
    for (int i = 0; i < kSearches; ++i) {
      auto answer = least_squares(task(x));
      if (!answer) return answer.error();
      found = std::move(answer).value();
      x = found.x;
      rounds += found.rounds;
      if (i + 1 < kSearches) weigh(x, i + 2 == kSearches);
    }
    return told(found, rounds);
  }

 private:
  LeastSquaresTask task(const std::vector<double>& from) {
    LeastSquaresTask task;
    task.start = from;
    for (const FitAxis& axis : axes_) {
      task.prior.push_back(axis.prior());
      task.prior_error.push_back(axis.doubt);
    }
    task.residuals = course_.counted().size();
    task.residuals_at = [this](std::span<const double> x, std::span<double> out) {
      course_.play(fit_point(order_, axes_, x), out);
      for (std::size_t i = 0; i < out.size(); ++i) {
        out[i] *= weights_[i] / errors_[index_of(course_.counted()[i].quantity)];
      }
    };
    return task;
  }

  /// Errors from what is left over; at last wider where neighbours err alike.
  void weigh(std::span<const double> x, bool last) {
    std::vector<double> off(course_.counted().size());
    course_.play(fit_point(order_, axes_, x), off);
    std::array<std::vector<double>, kQuantities> left;
    for (std::size_t i = 0; i < off.size(); ++i) {
      left[index_of(course_.counted()[i].quantity)].push_back(off[i]);
    }
    std::array<double, kQuantities> plain{};
    for (std::size_t q = 0; q < kQuantities; ++q) {
      if (!left[q].empty()) plain[q] = judge(left[q], misfit_[q], kLeastErrors[q]);
      errors_[q] = last ? plain[q] * std::sqrt(misfit_[q].alike) : plain[q];
    }
    for (std::size_t i = 0; i < off.size(); ++i) {
      weights_[i] = weight_root(off[i] / plain[index_of(course_.counted()[i].quantity)]);
    }
  }

  /// The error of one reading.
  static double judge(std::vector<double>& left, FitMisfit& misfit, double least) {
    double sum = 0.0;
    for (double v : left) sum += v * v;
    misfit.readings = left.size();
    misfit.rms = std::sqrt(sum / static_cast<double>(left.size()));
    const double error = std::max(middle_of(left), least);
    for (double& v : left) v *= weight_root(v / error);
    misfit.alike = alike_of(left);
    return error;
  }

  /// The standard deviation by the median of the absolute, which a few far ones do not move.
  static double middle_of(std::vector<double> left) {
    for (double& v : left) v = std::fabs(v);
    const auto half = left.begin() + static_cast<std::ptrdiff_t>(left.size() / 2);
    std::nth_element(left.begin(), half, left.end());
    return 1.4826 * *half;
  }

  TubFit told(const LeastSquaresFound& found, int rounds) const {
    TubFit fit;
    const std::size_t n = axes_.size();
    std::vector<double> usual, x = found.x;
    for (std::size_t i = 0; i < n; ++i) {
      const FitAxis& axis = axes_[i];
      const double error = std::sqrt(std::max(found.covariance[i * n + i], 0.0));
      const bool close = !axis.log || 2.0 * error < kToldWithin;
      const bool told = error < kDoubtLeft * axis.doubt && close;
      const bool beside = axis.of == FitOf::bed_start ||
                          (axis.of == FitOf::room_swing && course_.counted_s() < kSwingTold);
      if (beside) continue;
      fit.figures.push_back({axis.of, told, axis.value(x[i]), axis.value(x[i] - 2.0 * error),
                             axis.value(x[i] + 2.0 * error), axis.usual});
      if (!told) x[i] = axis.prior();
    }
    const FitPoint point = fit_point(order_, axes_, x);
    fit.model = point.model;
    for (const ActuatorPlan& a : order_.chamber.actuators) {
      fit.strengths.push_back(a.effect == Effect::humidify    ? point.mist
                              : a.effect == Effect::fresh_air ? point.fan
                                                              : 1.0);
    }
    fit.misfit = misfit_;
    fit.counted_s = course_.counted_s();
    fit.rounds = rounds;
    return fit;
  }

  const FitOrder& order_;
  FitCourse course_;
  std::vector<FitAxis> axes_;
  std::vector<double> weights_;
  std::array<double, kQuantities> errors_{};
  std::array<FitMisfit, kQuantities> misfit_{};
};

}  // namespace

const FittedFigure* TubFit::of(FitOf wanted) const {
  for (const FittedFigure& figure : figures) {
    if (figure.of == wanted) return &figure;
  }
  return nullptr;
}

Result<TubFit> fit_tub(const FitOrder& order, const TubHistory& history) {
  if (const auto why = unfit(history)) return *why;
  auto fit = Search(order, history).run();
  if (!fit) return fit.error();
  if (std::none_of(fit->figures.begin(), fit->figures.end(),
                   [](const FittedFigure& figure) { return figure.told; })) {
    return too_little(
        "this history tells none of the model's figures: its outputs moved the air too little, or "
        "a sensor's noise hides it");
  }
  return fit;
}

}  // namespace tubwarden::rehearsal
