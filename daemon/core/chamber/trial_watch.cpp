#include "core/chamber/trial_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden {
namespace {

/// Steps of the sensor that make a movement.
constexpr double kTellingSteps = 3.0;

/// Less than this is the air's own unrest (common practice, no source).
double unrest(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return 0.5;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return 0.2;
    case Quantity::co2:
      return 30.0;
  }
  ENSURE(false);
}

/// What a run of an effect moves: up, down, or either way (0); nothing where it does not.
std::optional<int> pushes(Effect effect, Quantity q) {
  switch (effect) {
    case Effect::humidify:
      return q == Quantity::humidity ? std::optional(1) : std::nullopt;
    case Effect::dehumidify:
      return q == Quantity::humidity ? std::optional(-1) : std::nullopt;
    case Effect::heat:
    case Effect::cool: {
      const bool warmth = q == Quantity::air_temperature || q == Quantity::substrate_temperature;
      return warmth ? std::optional(effect == Effect::heat ? 1 : -1) : std::nullopt;
    }
    case Effect::fresh_air:
      return q == Quantity::substrate_temperature ? std::nullopt : std::optional(0);
    case Effect::stir:
    case Effect::light:
      return std::nullopt;
  }
  ENSURE(false);
}

const char* what_to_look_at(Effect effect) {
  switch (effect) {
    case Effect::humidify:
      return "Look at its water, its power and the lid.";
    case Effect::dehumidify:
    case Effect::heat:
    case Effect::cool:
      return "It may be slower than this watch, or without power: look at it.";
    case Effect::fresh_air:
      return "The room's air may be the same as this one, or the fan stands: look at it.";
    case Effect::stir:
    case Effect::light:
      return "Look at it.";
  }
  ENSURE(false);
}

std::string short_amount(double value, Quantity q) {
  return trimmed(value, q == Quantity::co2 ? 0 : 1);
}

/// Two values that differ less than is shown differ at the next digit.
std::string way(double from, double to, Quantity q) {
  std::string a = short_amount(from, q), b = short_amount(to, q);
  if (a == b) a = trimmed(from, 2), b = trimmed(to, 2);
  return fmt::format("from {} to {} {}", a, b, unit_of(q));
}

}  // namespace

TrialWatch::TrialWatch(ActuatorPlan plan, Before before, Instant began, Duration run)
    : plan_(std::move(plan)), before_(before), began_(began), run_(run) {}

void TrialWatch::confirmed(Level level, Instant now) {
  if (level > kRest && !ran_) ran_ = now;
  if (level == kRest && ran_ && !rested_) rested_ = now;
}

void TrialWatch::reading(Quantity q, double value, Instant now) {
  const auto& from = before_.air[index_of(q)];
  if (!from) return;
  auto& farthest = farthest_[index_of(q)];
  if (farthest && std::abs(value - *from) <= std::abs(farthest->value - *from)) return;
  farthest = Moved{value, now};
  if (!first_moved_ && expected(q) && moved(q)) first_moved_ = now;
}

void TrialWatch::other_runs(const std::string& id) {
  if (std::find(others_.begin(), others_.end(), id) == others_.end()) others_.push_back(id);
}

bool TrialWatch::moved(Quantity q) const {
  const auto& farthest = farthest_[index_of(q)];
  if (!farthest) return false;
  const double least = std::max(unrest(q), kTellingSteps * before_.step[index_of(q)].value_or(0.0));
  return std::abs(farthest->value - *before_.air[index_of(q)]) >= least;
}

/// Whether this quantity's movement, if it has one, is the output's doing.
bool TrialWatch::expected(Quantity q) const {
  const auto push = pushes(plan_.effect, q);
  const auto& farthest = farthest_[index_of(q)];
  if (!push || !farthest) return false;
  const double way = farthest->value - *before_.air[index_of(q)];
  return *push == 0 || (*push > 0) == (way > 0);
}

bool TrialWatch::any_expected_read() const {
  return std::any_of(kAllQuantities.begin(), kAllQuantities.end(), [&](Quantity q) {
    return pushes(plan_.effect, q) && before_.air[index_of(q)];
  });
}

bool TrialWatch::any_moved() const { return first_moved_.has_value(); }

Instant TrialWatch::over_at() const {
  const Instant end = began_ + run_;
  const bool settled = !before_.confirms || (ran_ && rested_);
  Instant over = end + kTrialAirWatch;
  if (!any_expected_read()) over = end + kTrialFollow;
  if (any_moved() && settled) over = std::min(over, std::max(end, *first_moved_) + kTrialFollow);
  return over;
}

bool TrialWatch::good() const {
  if (before_.confirms && !(ran_ && rested_)) return false;
  return !any_expected_read() || any_moved();
}

std::string TrialWatch::confirmation_told() const {
  if (!before_.confirms) return "nothing confirms it";
  if (!ran_) return "it did NOT confirm running";
  const std::string after = spoken(*ran_ - began_);
  if (!rested_)
    return fmt::format("it confirmed running after {}, and did NOT confirm rest", after);
  const Instant end = began_ + run_;
  if (*rested_ <= end) return fmt::format("it confirmed running after {} and rest in time", after);
  return fmt::format("it confirmed running after {} and rest {} after its end", after,
                     spoken(*rested_ - end));
}

std::string TrialWatch::air_told() const {
  std::vector<std::string> ways;
  for (Quantity q : kAllQuantities) {
    if (!expected(q) || !moved(q)) continue;
    const auto& farthest = *farthest_[index_of(q)];
    ways.push_back(fmt::format("{} went {} within {}", word_of(q),
                               way(*before_.air[index_of(q)], farthest.value, q),
                               spoken(farthest.at - began_)));
  }
  if (!ways.empty()) {
    const std::string meanwhile =
        others_.empty() ? "" : fmt::format(" ({} ran meanwhile)", fmt::join(others_, " and "));
    return fmt::format("{}{}.", fmt::join(ways, ", "), meanwhile);
  }
  if (!any_expected_read()) return "no sensor here measures what it does; look at it.";
  return fmt::format("the air did NOT move. {}", what_to_look_at(plan_.effect));
}

std::string TrialWatch::told() const {
  return fmt::format("{} ran for {}: {}; {}", plan_.id, spoken(run_), confirmation_told(),
                     air_told());
}

}  // namespace tubwarden
