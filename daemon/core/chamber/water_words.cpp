// The water book in sentences.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "base/text.hpp"
#include "core/chamber/water_view.hpp"

namespace tubwarden {
namespace {

/// Less is too little to say anything by.
constexpr Duration kAccountLeast = hours(1);
/// mL: nobody waters more finely.
constexpr double kGiveStep = 10.0;

std::string hours_text(Duration time) {
  return fmt::format("{} h", trimmed(seconds_of(time) / 3600.0, time < hours(10) ? 1 : 0));
}

std::string counted_from(const CasingView& casing) {
  return casing.given_ml > 0.0 ? fmt::format("since {} mL were given", trimmed(casing.given_ml, 0))
                               : std::string("since it is counted");
}

}  // namespace

std::string told(const CasingView& casing, const WaterView& view) {
  if (!view.missing.empty()) {
    return fmt::format("what the casing gives up is not known without {}",
                       fmt::join(view.missing, ", "));
  }
  const WaterAccount& a = casing.account;
  if (a.covered < kAccountLeast) {
    return fmt::format("{} h {}, and {} of it with readings: too little to say what it gave up",
                       trimmed(seconds_of(a.since) / 3600.0, 1), counted_from(casing),
                       hours_text(a.covered));
  }
  const bool several = view.casings.size() > 1;
  std::string text =
      fmt::format("{} {} g (+-{}) in {} {}", several ? "the casings here" : "the casing",
                  (a.gave_g < 0.0 ? "took up " : "gave up ") + trimmed(std::fabs(a.gave_g), 0),
                  trimmed(a.doubt_g, 0), hours_text(a.since), counted_from(casing));
  if (a.since - a.covered > a.since / 20) {
    text += fmt::format(", of which {} were read", hours_text(a.covered));
  }
  const double give = std::round(a.gave_g / kGiveStep) * kGiveStep;
  if (!several && a.gave_g > a.doubt_g && give > 0.0) {
    text += fmt::format("; as much again is about {} mL", trimmed(give, 0));
  } else if (a.gave_g <= a.doubt_g && a.gave_g > 0.0) {
    text += "; no more than the figures are unsure by";
  }
  if (view.leak_assumed) text += "; the lid's leak is assumed";
  return text;
}

std::string told(const TankView& tank) {
  if (!tank.left_ml) {
    return fmt::format("{}: how full its tank is was never said (refill)", tank.actuator);
  }
  std::string text =
      fmt::format("{}: about {} of {} L left", tank.actuator, trimmed(*tank.left_ml / 1000.0, 1),
                  trimmed(tank.holds_ml / 1000.0, 1));
  if (tank.lasts) text += fmt::format(", for {} as it ran of late", hours_text(*tank.lasts));
  return text;
}

std::string told_day(const WaterView& view) {
  if (view.day_mist_g <= 0.0 && view.day_energy_wh <= 0.0) return "";
  std::string text = fmt::format("{} g of mist, {} Wh in the last {}", trimmed(view.day_mist_g, 0),
                                 trimmed(view.day_energy_wh, 0), hours_text(view.day_seen));
  if (!view.unmetered.empty()) {
    text += fmt::format(", without {}, whose power is not given", fmt::join(view.unmetered, ", "));
  }
  return text;
}

}  // namespace tubwarden
