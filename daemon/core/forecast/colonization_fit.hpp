// The curve of a jar growing through, fitted to what an eye saw: a logistic in warm time, with how
// sure each of its figures is. Threading: pure. Failure: nothing where the search finds no minimum.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace tubwarden {

/// One judgement of the eye, in warm days from the curve's origin.
struct WarmLook {
  double warm_days = 0.0;
  double grown = 0.0;  ///< 0..1
};

/// What a look is worth: an eye is some 7 points off (common practice, no source). As evenly spread
/// within them that is 4.0 points of standard deviation; a little more, for an eye that is at times
/// further off.
inline constexpr double kEyeError = 0.045;

/// grown(w) = [1 + (2^v - 1) exp(-(w - half) / s)]^(-1/v): the generalised logistic of Richards,
/// J. Exp. Bot. 10 (1959) 290-301, told from its middle; the logistic at v = 1, Gompertz's curve as
/// v goes to 0. s = 2 scale (1 - 2^-v) / v keeps the slope at one half at 1 / (4 scale), whatever
/// v. The bend v is hardly a freedom of the fit, which a few looks could not bear: it is believed
/// to lie midway between those two, give or take one half, and so brings into the interval that a
/// jar need not follow a logistic.
struct GrownCurve {
  double half = 0.0;   ///< warm days to one half
  double scale = 0.0;  ///< warm days
  double bend = 1.0;   ///< v; below 0 nothing is seen before a first moment

  double grown(double warm_days) const;
  double warm_days(double grown) const;  ///< the inverse, of 0 < grown < 1
};

/// What is believed before the first look: a median and the error of its logarithm.
struct Believed {
  double median = 1.0;
  double log_error = 1.0;
};
struct GrownBelief {
  Believed full;             ///< warm days until it is grown through
  double full_means = 0.98;  ///< the share that counts as full, 0..1
  Believed steepness;        ///< scale / half
};

/// One of the curves that the looks allow, with its share among them.
struct AllowedCurve {
  GrownCurve curve;
  double weight = 0.0;
};

/// Warm days before which 10, 50 and 90 of 100 allowed curves have got so far.
struct WarmSpan {
  double early = 0.0, likely = 0.0, late = 0.0;
};

struct GrownFit {
  GrownCurve best;  ///< the one of the least squares
  std::vector<AllowedCurve> allowed;

  WarmSpan reaches(double grown) const;
};

/// Least squares of looks and beliefs by Levenberg and Marquardt's method within bounds, and from
/// its best point and covariance the curves that are allowed, by importance sampling over a fixed
/// set of points: the same looks give the same.
std::optional<GrownFit> fit_grown(std::span<const WarmLook> looks, const GrownBelief& belief);

}  // namespace tubwarden
