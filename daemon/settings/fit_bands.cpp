#include <fmt/format.h>

#include "base/text.hpp"
#include "core/fit/band.hpp"
#include "core/fit/heat.hpp"
#include "settings/amount.hpp"
#include "settings/fit_judge.hpp"
#include "settings/readers.hpp"

namespace tubwarden::fit {
namespace {

void judge_sensor(const PhaseAir& air, const SensorPlan& sensor, const QuantitySource& source,
                  Verdicts& out) {
  const auto& plan = air.phase.of(source.quantity);
  if (!plan || !plan->keep || plan->keep->form != Keep::Form::between) return;
  const Band band = *air.band(source.quantity);
  const std::string subject = sensor.id + "/" + std::string(name_of(source.quantity));
  if (!source.accuracy) {
    out.push_back(
        {FitAbout::sensor, subject, FitMark::unknown, 0,
         fmt::format("How well sensor {} knows {} is not said: give its accuracy, from the data "
                     "sheet.",
                     sensor.id, word_of(source.quantity))});
    return;
  }
  const Measure measure = measure_of(source.quantity);
  const std::string wide = amount_text(band.width(), measure);
  std::string text =
      fmt::format("Sensor {} knows {} to +- {}, and the band {} is {} wide", sensor.id,
                  word_of(source.quantity), amount_text(*source.accuracy, measure),
                  band_words(air, source.quantity), wide);
  const std::string works = fmt::format(
      " What works: a band at least {} wide, or a sensor of +- {}.",
      amount_text(2 * *source.accuracy, measure), amount_text(band.width() / 2, measure));
  FitMark mark = FitMark::fits;
  switch (telling(band, *source.accuracy)) {
    case Telling::tells:
      text += ".";
      break;
    case Telling::doubtful:
      mark = FitMark::tight;
      text += ": a reading in its middle does not prove that the air is in it." + works;
      break;
    case Telling::blind:
      mark = FitMark::cannot;
      text += ": it cannot tell the band's two edges apart." + works;
      break;
  }
  out.push_back(
      {FitAbout::sensor, subject, mark, *source.accuracy / band.width(), std::move(text)});
}

}  // namespace

std::optional<KeptTemperature> kept_temperature(const PhaseAir& air) {
  if (const auto band = air.band(Quantity::air_temperature)) {
    return KeptTemperature{Quantity::air_temperature, *band};
  }
  if (const auto band = air.band(Quantity::substrate_temperature)) {
    return KeptTemperature{Quantity::substrate_temperature, *band, kSubstrateAboveAirMin,
                           kSubstrateAboveAirMax};
  }
  return std::nullopt;
}

std::string kept_words(const PhaseAir& air, const KeptTemperature& kept) {
  return fmt::format("{} {}", word_of(kept.quantity), band_words(air, kept.quantity));
}

void judge_sensors(const PhaseAir& air, Verdicts& out) {
  for (const SensorPlan& sensor : air.chamber.sensors) {
    for (const QuantitySource& source : sensor.quantities) judge_sensor(air, sensor, source, out);
  }
}

void judge_ceiling(const PhaseAir& air, const TubPlan& tub, Verdicts& out) {
  const auto kept = kept_temperature(air);
  if (!kept || !tub.substrate_ceiling_c) return;
  const double ceiling = *tub.substrate_ceiling_c;
  Band substrate = kept->band;
  std::string text =
      fmt::format("The ceiling of {} C over {}", trimmed(ceiling), kept_words(air, *kept));
  if (kept->quantity == Quantity::air_temperature) {
    substrate = {substrate.low + kSubstrateAboveAirMin, substrate.high + kSubstrateAboveAirMax};
    text += fmt::format(" (substrate {}..{} C, 1 to 3 C above its air)", trimmed(substrate.low, 1),
                        trimmed(substrate.high, 1));
  }
  FitMark mark = FitMark::fits;
  switch (ceiling_over(substrate, ceiling)) {
    case Ceiling::clear:
      text += fmt::format(" leaves {} C.", trimmed(ceiling - substrate.high, 1));
      break;
    case Ceiling::above_middle:
      mark = FitMark::tight;
      text += " lies inside it: its upper part is never reached.";
      break;
    case Ceiling::locks:
      mark = FitMark::cannot;
      text += fmt::format(" locks the heater before it reaches the middle, {} C.",
                          trimmed(substrate.middle(), 2));
      break;
  }
  if (mark != FitMark::fits) {
    text += fmt::format(
        " What works: a lower band, or, where the strain bears it, a ceiling above "
        "{} C.",
        trimmed(substrate.high, 1));
  }
  out.push_back({FitAbout::ceiling, tub.id, mark, substrate.high - ceiling, std::move(text)});
}

}  // namespace tubwarden::fit
