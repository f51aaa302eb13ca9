#include "core/air/calibration.hpp"

#include <cmath>
#include <utility>

namespace tubwarden {

std::optional<TwoPoint> two_point(KnownPoint a, KnownPoint b) {
  for (double number : {a.read, a.truth, b.read, b.truth}) {
    if (!std::isfinite(number)) return std::nullopt;
  }
  if (a.read > b.read) std::swap(a, b);
  if (!(a.read < b.read) || !(a.truth < b.truth)) return std::nullopt;
  return TwoPoint{a, b};
}

double corrected(const TwoPoint& points, double raw) {
  return points.low.truth + (raw - points.low.read) * line_of(points).scale;
}

Line line_of(const TwoPoint& points) {
  const double scale =
      (points.high.truth - points.low.truth) / (points.high.read - points.low.read);
  return {scale, points.low.truth - points.low.read * scale};
}

}  // namespace tubwarden
