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
  struct Row {
    double pressure, pressure_slope;  ///< Pa, Pa/K
    double vigour, vigour_slope;      ///< q10^((t - reference)/10), and a kelvin
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
      rows_[i] = {pressure(t), (pressure(next) - pressure(t)) * kPerKelvin, vigour(t),
                  (vigour(next) - vigour(t)) * kPerKelvin};
    }
  }

  At at(double celsius) const {
    const double place = (celsius - kLowest) * kPerKelvin;
    const double row = std::clamp(place, 0.0, static_cast<double>(kRows - 1));
    const auto i = static_cast<std::size_t>(row);
    const double beyond = (place - static_cast<double>(i)) / kPerKelvin;
    const Row& r = rows_[i];
    return {r.pressure + r.pressure_slope * beyond, r.pressure_slope,
            r.vigour + r.vigour_slope * beyond};
  }

 private:
  static constexpr double kLowest = -20.0;
  static constexpr double kPerKelvin = 8.0;
  static constexpr std::size_t kRows = 90 * 8;
  std::vector<Row> rows_;
};

}  // namespace tubwarden::rehearsal
