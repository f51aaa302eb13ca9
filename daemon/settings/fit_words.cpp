#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "settings/amount.hpp"
#include "settings/fit_judge.hpp"

namespace tubwarden::fit {
namespace {

/// The place of the second figure that counts, as a power of ten.
double second_figure(double value) { return std::pow(10.0, std::floor(std::log10(value)) - 1.0); }

/// A hair of room, so that 26 is not rounded to 25 or 27.
constexpr double kRounding = 1e-9;

}  // namespace

std::string figure(double value) {
  const double size = std::abs(value);
  return trimmed(value, size >= 20 ? 0 : size >= 1 ? 1 : 2);
}

std::string at_most(double value) {
  if (value <= 0) return "0";
  const double place = second_figure(value);
  return trimmed(std::floor(value / place + kRounding) * place, 4);
}

std::string at_least(double value) {
  if (value <= 0) return "0";
  const double place = second_figure(value);
  return trimmed(std::ceil(value / place - kRounding) * place, 4);
}

std::string time_words(Duration d) { return amount_text(seconds_of(d), Measure::duration); }

std::string time_at_most(Duration d) {
  const double s = seconds_of(d);
  return s >= 60 ? time_words(from_seconds(std::floor(s))) : at_most(s) + "s";
}

std::string time_at_least(Duration d) {
  const double s = seconds_of(d);
  return s >= 60 ? time_words(from_seconds(std::ceil(s))) : at_least(s) + "s";
}

std::string band_words(const PhaseAir& air, Quantity q) {
  const auto& plan = air.phase.of(q);
  if (!plan || !plan->keep) return "";
  const Keep& keep = *plan->keep;
  switch (keep.form) {
    case Keep::Form::between:
      return fmt::format("{}..{} {}", trimmed(keep.low), trimmed(keep.high), unit_of(q));
    case Keep::Form::above:
      return fmt::format("above {} {}", trimmed(keep.low), unit_of(q));
    case Keep::Form::below:
      break;
  }
  return fmt::format("below {} {}", trimmed(keep.high), unit_of(q));
}

std::string room_words(const Room& room) {
  return fmt::format("{} room of {} C and {} %", room.fixed() ? "a" : "an assumed",
                     trimmed(room.moist.t.value, 1), trimmed(room.moist.rh.value, 1));
}

std::string ids(const std::vector<const ActuatorPlan*>& parts) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (i > 0) text += i + 1 == parts.size() ? " and " : ", ";
    text += parts[i]->id;
  }
  return text;
}

}  // namespace tubwarden::fit
