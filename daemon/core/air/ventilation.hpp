// CO2 as a tracer of fresh air in one well mixed zone: decay, steady state and build-up, in the
// forms of ASTM E741 (tracer gas dilution; air change rate A = Q / V).
// Threading: pure functions. Failure: nothing is returned where the figures allow no answer.
#pragma once

#include <optional>
#include <span>

#include "base/time.hpp"
#include "core/air/units.hpp"

namespace tubwarden {

/// A = Q / V. Nothing for no volume.
std::optional<PerHour> air_change_rate(LitresPerHour flow, Litres volume);

/// From two readings of a decay without a source: A = ln((C1 - Cb) / (C2 - Cb)) / t.
/// Nothing unless both stand above the background and time has passed.
std::optional<PerHour> air_change_rate(Ppm first, Ppm second, Ppm background, Duration between);

struct Co2Sample {
  Duration at{0};  ///< from any common origin
  Ppm co2;
};
struct DecayFit {
  PerHour rate;
  double r_squared = 0.0;  ///< of the line through ln(C - Cb)
};
/// The line of least squares through ln(C - Cb) over time; readings at or below the background are
/// left out. Nothing with fewer than three usable readings, or all at one time.
std::optional<DecayFit> fit_decay(std::span<const Co2Sample> samples, Ppm background);

/// Where the air settles with a source of pure CO2: Css = Cb + 1e6 G / Q. Nothing without flow.
std::optional<Ppm> steady_state(Ppm background, LitresPerHour source, LitresPerHour flow);

/// C(t) = Css + (C0 - Css) e^(-A t): build-up and decay alike.
Ppm co2_after(Ppm start, Ppm steady, PerHour rate, Duration passed);

}  // namespace tubwarden
