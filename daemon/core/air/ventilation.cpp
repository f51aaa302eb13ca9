#include "core/air/ventilation.hpp"

#include <cmath>

namespace tubwarden {

namespace {

double hours_of(Duration d) { return seconds_of(d) / 3600.0; }

}  // namespace

std::optional<PerHour> air_change_rate(LitresPerHour flow, Litres volume) {
  if (!(volume.value > 0.0)) return std::nullopt;
  return PerHour{flow.value / volume.value};
}

std::optional<PerHour> air_change_rate(Ppm first, Ppm second, Ppm background, Duration between) {
  const double before = first.value - background.value;
  const double after = second.value - background.value;
  if (!(before > 0.0) || !(after > 0.0) || between <= Duration{0}) return std::nullopt;
  return PerHour{std::log(before / after) / hours_of(between)};
}

std::optional<DecayFit> fit_decay(std::span<const Co2Sample> samples, Ppm background) {
  // Sums about the first usable reading, so that far origins cost no digits.
  double n = 0, st = 0, sy = 0, stt = 0, sty = 0, syy = 0;
  double t0 = 0, y0 = 0;
  for (const Co2Sample& sample : samples) {
    const double above = sample.co2.value - background.value;
    if (!(above > 0.0)) continue;
    const double t = hours_of(sample.at);
    const double y = std::log(above);
    if (n == 0) {
      t0 = t;
      y0 = y;
    }
    n += 1;
    st += t - t0;
    sy += y - y0;
    stt += (t - t0) * (t - t0);
    sty += (t - t0) * (y - y0);
    syy += (y - y0) * (y - y0);
  }
  const double tt = stt - st * st / n;
  if (n < 3 || !(tt > 0.0)) return std::nullopt;
  const double ty = sty - st * sy / n;
  const double yy = syy - sy * sy / n;
  return DecayFit{PerHour{-ty / tt}, yy > 0.0 ? ty * ty / (tt * yy) : 1.0};
}

std::optional<Ppm> steady_state(Ppm background, LitresPerHour source, LitresPerHour flow) {
  if (!(flow.value > 0.0)) return std::nullopt;
  return Ppm{background.value + 1e6 * source.value / flow.value};
}

Ppm co2_after(Ppm start, Ppm steady, PerHour rate, Duration passed) {
  return {steady.value + (start.value - steady.value) * std::exp(-rate.value * hours_of(passed))};
}

}  // namespace tubwarden
