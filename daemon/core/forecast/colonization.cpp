#include "core/forecast/colonization.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "core/forecast/colonization_fit.hpp"

namespace tubwarden {
namespace {

/// 80 % of a normal distribution lie within so many errors of its middle.
constexpr double kEightyPct = 1.2816;
/// How sure the window is: the logarithm of its middle, at least.
constexpr double kWindowError = 0.5;
/// Scale over half of an undisturbed jar: a lag of two fifths of the way to one half; its error
/// covers one of hardly any to two thirds (choice).
constexpr Believed kUndisturbed{0.3, 0.6};
/// After a shake some of it stays to be seen, and the lag is short (choice).
constexpr Believed kShaken{0.4, 0.6};
constexpr double kShakenShare = 0.5, kShakenError = 0.5;

Error refuse_case(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

std::optional<Error> fault_of(const ColonizationCase& jar) {
  if (jar.looks.size() > kLooksMost) {
    return refuse_case(fmt::format("{} looks; allowed: {} at most", jar.looks.size(), kLooksMost));
  }
  for (const GrownLook& look : jar.looks) {
    if (!(look.percent >= 0.0 && look.percent <= 100.0)) {
      return refuse_case(
          fmt::format("{} % grown through; allowed: 0 to 100 %", trimmed(look.percent)));
    }
    if (look.at < jar.inoculated || look.at > jar.now) {
      return refuse_case(fmt::format("a look at {}; allowed: from the inoculation at {} until now",
                                     rfc3339(look.at), rfc3339(jar.inoculated)));
    }
  }
  for (const WallTime shake : jar.shakes) {
    if (shake >= jar.inoculated && shake <= jar.now) continue;
    return refuse_case(fmt::format("a shake at {}; allowed: from the inoculation at {} until now",
                                   rfc3339(shake), rfc3339(jar.inoculated)));
  }
  if (jar.window_from <= Duration{0} || jar.window_to < jar.window_from) {
    return refuse_case(
        "the profile's window; allowed: 'expect' with a 'from' above 0 and a 'to' "
        "not before it");
  }
  if (!(growth_pace(jar.ahead) > 0.0)) {
    return refuse_case(fmt::format("nothing grows at {} C; allowed: between {} and {} C",
                                   trimmed(jar.ahead.value), trimmed(kMycelium.least.value),
                                   trimmed(kMycelium.most.value)));
  }
  return std::nullopt;
}

double days_of(Duration d) { return seconds_of(d) / 86'400.0; }

std::vector<GrownLook> looks_between(const ColonizationCase& jar, WallTime from, WallTime to) {
  std::vector<GrownLook> found;
  for (const GrownLook& look : jar.looks) {
    if (look.at >= from && look.at < to) found.push_back(look);
  }
  std::ranges::stable_sort(found, {}, &GrownLook::at);
  return found;
}

/// What one curve says of the instants at which a share is reached.
class Curve {
 public:
  Curve(const ColonizationCase& jar, WallTime origin, const std::vector<GrownLook>& looks,
        const GrownBelief& belief)
      : warm_(jar.history, origin, jar.now, jar.ahead) {
    std::vector<WarmLook> seen;
    for (const GrownLook& look : looks) {
      seen.push_back({warm_.days_at(look.at), look.percent / 100.0});
    }
    fit_ = fit_grown(seen, belief);
    const double low = growth_pace({jar.ahead.value - jar.ahead_halfwidth_c});
    const double high = growth_pace({jar.ahead.value + jar.ahead_halfwidth_c});
    // As evenly spread between the two: a halfwidth over the root of 3.
    ahead_error_ = std::abs(high - low) / (2.0 * std::sqrt(3.0)) / growth_pace(jar.ahead);
  }

  std::optional<ForecastSpan> at(double percent) const {
    if (!fit_) return std::nullopt;
    const WarmSpan warm = fit_->reaches(percent / 100.0);
    // What the temperature ahead adds to either side.
    const double doubt = kEightyPct * std::max(0.0, warm.likely - warm_.days_now()) * ahead_error_;
    const auto early = warm_.reached(warm.likely - std::hypot(warm.likely - warm.early, doubt));
    const auto likely = warm_.reached(warm.likely);
    const auto late = warm_.reached(warm.likely + std::hypot(warm.late - warm.likely, doubt));
    if (!early || !likely || !late) return std::nullopt;
    return ForecastSpan{*early, *likely, *late};
  }

 private:
  WarmTime warm_;
  std::optional<GrownFit> fit_;
  double ahead_error_ = 0.0;
};

GrownBelief belief_of(const ColonizationCase& jar, bool shaken) {
  const double from = days_of(jar.window_from), to = days_of(jar.window_to);
  const double middle = std::sqrt(from * to) * growth_pace(jar.ahead);
  const double error = std::max(kWindowError, std::log(to / from) / 2.0);
  if (shaken)
    return {{middle * kShakenShare, std::hypot(error, kShakenError)}, kFullPct / 100.0, kShaken};
  return {{middle, error}, kFullPct / 100.0, kUndisturbed};
}

ForecastSpan window_of(const ColonizationCase& jar) {
  const auto on = [&](Duration d) {
    return jar.inoculated + duration_cast<WallClock::duration>(d);
  };
  return {on(jar.window_from), on((jar.window_from + jar.window_to) / 2), on(jar.window_to)};
}

}  // namespace

Result<ColonizationForecast> forecast_colonization(const ColonizationCase& jar) {
  if (const auto fault = fault_of(jar)) return *fault;
  const WarmTime warm(jar.history, jar.inoculated, jar.now, jar.ahead);
  ColonizationForecast told;
  told.warm_days = warm.days_now();
  told.known_temperature = warm.known_share();
  told.shaken = !jar.shakes.empty();
  const WallTime end = jar.now + milliseconds(1);
  const WallTime first = told.shaken ? std::ranges::min(jar.shakes) : end;
  const WallTime last = told.shaken ? std::ranges::max(jar.shakes) : jar.inoculated;
  const std::vector<GrownLook> whole = looks_between(jar, jar.inoculated, first);
  const std::vector<GrownLook> since = looks_between(jar, last, end);
  for (const GrownLook& look : since) {
    if (look.percent >= kFullPct && !told.seen_full) told.seen_full = look.at;
  }
  if (whole.size() >= kLooksLeast) {
    const Curve curve(jar, jar.inoculated, whole, belief_of(jar, false));
    told.shake_from = curve.at(kShakeFromPct);
    told.shake_to = curve.at(kShakeToPct);
  }
  told.full = window_of(jar);
  told.looks_used = since.size();
  if (since.size() < kLooksLeast) return told;
  const Curve curve(jar, last, since, belief_of(jar, told.shaken));
  if (const auto full = curve.at(kFullPct)) {
    told.full = *full;
    told.basis = ForecastBasis::looks;
  }
  return told;
}

ForecastError error_of(const ForecastSpan& told, WallTime came) {
  return {duration_cast<Duration>(came - told.likely), told.early <= came && came <= told.late};
}

}  // namespace tubwarden
