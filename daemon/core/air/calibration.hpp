// Two-point calibration: the straight line through two readings whose truth is known.
// Threading: pure functions. Failure: no line through two readings that are too close.
#pragma once

#include <optional>

namespace tubwarden {

/// What the sensor read, and what was true; both in the quantity's kept unit.
struct KnownPoint {
  double read = 0.0;
  double truth = 0.0;
  bool operator==(const KnownPoint&) const = default;
};

struct TwoPoint {
  KnownPoint low, high;  ///< by `read`; from two_point(), so that they are apart
  bool operator==(const TwoPoint&) const = default;
};

/// The two points in order; nothing when their readings or truths are not apart or go opposite
/// ways, or a number is not finite.
std::optional<TwoPoint> two_point(KnownPoint a, KnownPoint b);

/// corrected = truth.low + (raw - read.low) x (truth.high - truth.low) / (read.high - read.low);
/// beyond the points the line goes on.
double corrected(const TwoPoint& points, double raw);

/// The same line as value = raw x scale + offset.
struct Line {
  double scale = 1.0;
  double offset = 0.0;
};
Line line_of(const TwoPoint& points);

}  // namespace tubwarden
