#include "core/climate/portion.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

/// A portion aims no nearer to the upper edge than this share of the band.
constexpr double kEdge = 1.0 / 8.0;

}  // namespace

std::string_view name_of(Control control) {
  switch (control) {
    case Control::portions:
      return "portions";
    case Control::hysteresis:
      return "hysteresis";
  }
  ENSURE(false);
}

double mist_prior(double g_per_h, Litres air, Celsius t) {
  ENSURE(air.value > 0.0);
  return 100.0 * (g_per_h / 3600.0) /
         (absolute_humidity_g_m3(t, Percent{100}) * air.value / 1000.0);
}

Duration pace(const RunLimits& limits, int starts_last_hour) {
  if (limits.starts_per_hour <= 0) return Duration{0};
  const double allowed = limits.starts_per_hour;
  const double spent = (starts_last_hour - allowed / 2.0) / (allowed / 2.0);
  return from_seconds(3600.0 / allowed * std::max(0.0, spent));
}

std::optional<Portion> mist_portion(const MistAsk& ask, const KeptBand& kept,
                                    const RunLimits& limits) {
  const double middle = kept.band.middle();
  const double most = kept.band.high - kEdge * kept.band.width();
  const double start = ask.fed_forward ? middle : kept.raise_start();
  if (!kept.raises || ask.now >= std::max(middle, start)) return std::nullopt;
  if (std::min(ask.lowest, ask.now) >= start) return std::nullopt;
  // What comes back by itself needs no mist, unless it is about to leave the band.
  const bool comes_back = ask.next >= middle || ask.next > ask.settled;
  if (!ask.fed_forward && comes_back && ask.settled >= kept.band.low + kEdge * kept.band.width()) {
    return std::nullopt;
  }
  // The saw between this mist and the next has the middle of the band for its own.
  const double lacks = middle - (ask.lowest + ask.highest) / 2.0;
  double run_s =
      std::min(lacks / ((ask.gain + ask.gain_next) / 2.0), (most - ask.settled) / ask.gain);
  const double shortest = seconds_of(limits.shortest_run);
  if (run_s < shortest) {
    // Half of the shortest run is nearer to what is lacking than nothing.
    if (run_s < shortest / 2.0 || ask.settled + shortest * ask.gain > kept.band.high) {
      return std::nullopt;
    }
    run_s = shortest;
  }
  Duration run = std::max(from_seconds(run_s), limits.shortest_run);
  if (limits.longest_run > Duration{0}) run = std::min(run, limits.longest_run);
  return Portion{run, ask.settled + seconds_of(run) * ask.gain};
}

std::optional<Duration> exchange_time(double value, double to, double outside, double exchange,
                                      double drift) {
  if (value <= to) return Duration{0};
  ENSURE(exchange > 0.0);
  const double rests = outside + drift / exchange;
  if (to <= rests) return std::nullopt;
  return from_seconds(std::log((value - rests) / (to - rests)) / exchange);
}

}  // namespace tubwarden
