// Saturation pressure and the crop's temperature response as tables: the model asks for them five
// times a step, and sixty days have five million steps. Straight lines 1/8 K apart: within 1e-5 of
// the formula between -20 and 70 C. Threading: read only once made. Failure: outside its range the
// last line goes on.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "core/air/psychrometrics.hpp"

namespace tubwarden::rehearsal {

class SaturationTable {
 public:
  /// A straight line: Pa, Pa/K; q10^((t - reference)/10), and a kelvin; both at `from`.
  struct Row {
    double low = 1.0, high = 0.0;  ///< where it is the one to take; this one nowhere
    double from = 0.0;
    double pressure = 0.0, pressure_slope = 0.0;
    double vigour = 0.0, vigour_slope = 0.0;
  };
  struct At {
    double pressure, pressure_slope, vigour;
  };

  SaturationTable(double q10, double reference_c) : rows_(kRows) {
    const auto pressure = [](double t) { return saturation_pressure(Celsius{t}).value; };
    const auto vigour = [&](double t) { return std::pow(q10, (t - reference_c) / 10.0); };
    for (std::size_t i = 0; i < kRows; ++i) {
      const double t = kLowest + static_cast<double>(i) / kPerKelvin;
      const double next = t + 1.0 / kPerKelvin;
      rows_[i] = {t,
                  next,
                  t,
                  pressure(t),
                  (pressure(next) - pressure(t)) * kPerKelvin,
                  vigour(t),
                  (vigour(next) - vigour(t)) * kPerKelvin};
    }
    rows_.front().low = -kEndless;
    rows_.back().high = kEndless;
  }

  /// `row` is the caller's, one a place that is asked for: temperatures move slowly, so that the
  /// last line mostly serves again and the processor need not wait for it to be found.
  At at(double celsius, Row& row) const {
    if (!(celsius >= row.low && celsius < row.high)) row = find(celsius);
    const double beyond = celsius - row.from;
    return {row.pressure + row.pressure_slope * beyond, row.pressure_slope,
            row.vigour + row.vigour_slope * beyond};
  }
  At at(double celsius) const {
    Row row;
    return at(celsius, row);
  }

 private:
  static constexpr double kLowest = -20.0;
  static constexpr double kPerKelvin = 8.0;
  static constexpr std::size_t kRows = 90 * 8;
  static constexpr double kEndless = 1e300;

  const Row& find(double celsius) const {
    const double place = (celsius - kLowest) * kPerKelvin;
    return rows_[static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(kRows - 1)))];
  }

  std::vector<Row> rows_;
};

}  // namespace tubwarden::rehearsal
