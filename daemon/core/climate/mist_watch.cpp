#include "core/climate/mist_watch.hpp"

#include <algorithm>

namespace tubwarden {
namespace {

/// Less than this share of what was expected is nothing; a worn mister still gives more.
constexpr double kNothing = 0.15;
constexpr double kProves = 0.5;
/// Less than so many of the smallest steps cannot be told from noise.
constexpr double kSteps = 3.0;

}  // namespace

void MistWatch::begin(double expected, double reading, double drift,
                      const AirForecast::Learned& known, Duration run, Instant now) {
  ++unproved_;
  watched_ = Watched{expected, reading, drift, now, run, known, reading};
}

Duration MistWatch::longest_tried(double gain, double step) const {
  return std::max(last_effective_, from_seconds(1.2 * kSteps * step / std::max(gain, 1e-3)));
}

MistWatch::Verdict MistWatch::reading(double value, double step, Duration settles, Instant now) {
  if (!watched_) return Verdict::none;
  watched_->highest =
      std::max(watched_->highest, value - watched_->drift * seconds_of(now - watched_->began));
  if (now < watched_->began + watched_->run + settles) return Verdict::none;
  const Watched w = *watched_;
  watched_.reset();
  if (w.expected < kSteps * step) return Verdict::none;
  if (w.highest - w.reading < std::max(kNothing * w.expected, step)) {
    if (nothing_in_a_row_ == 0) known_before_ = w.known;
    ++nothing_in_a_row_;
    return Verdict::nothing;
  }
  nothing_in_a_row_ = 0;
  unproved_ = 0;
  known_before_.reset();
  last_effective_ = w.run;
  return w.highest - w.reading < kProves * w.expected ? Verdict::little : Verdict::moved;
}

}  // namespace tubwarden
