#include <fmt/format.h>

#include "base/text.hpp"
#include "core/fit/band.hpp"
#include "core/fit/fan.hpp"
#include "core/fit/heat.hpp"
#include "settings/amount.hpp"
#include "settings/fit_judge.hpp"
#include "settings/readers.hpp"

namespace tubwarden::fit {
namespace {

/// A loss that is assumed is not trusted further than this: within, it is tight.
constexpr double kTrust = 1.25;
/// A room that a cooler is to cope with where the room's temperature is not fixed (a choice).
constexpr double kWarmRoomC = 30.0;

/// The temperature that the phase keeps, and how far it stands over the air by itself.
struct KeptTemperature {
  Quantity quantity;
  Band band;
  double above_min = 0, above_max = 0;
};
std::optional<KeptTemperature> temperature_of(const PhaseAir& air) {
  if (const auto band = air.band(Quantity::air_temperature)) {
    return KeptTemperature{Quantity::air_temperature, *band};
  }
  if (const auto band = air.band(Quantity::substrate_temperature)) {
    return KeptTemperature{Quantity::substrate_temperature, *band, kSubstrateAboveAirMin,
                           kSubstrateAboveAirMax};
  }
  return std::nullopt;
}

std::optional<double> watts(const std::vector<const ActuatorPlan*>& parts) {
  double sum = 0;
  for (const ActuatorPlan* part : parts) {
    if (!part->rate) return std::nullopt;
    sum += *part->rate * duty_max(part->limits);
  }
  return sum;
}

std::string kept_words(const PhaseAir& air, const KeptTemperature& kept) {
  return fmt::format("{} {}", word_of(kept.quantity), band_words(air, kept.quantity));
}

std::string own_heat(const KeptTemperature& kept) {
  return kept.above_max > 0 ? " (working substrate stands 1 to 3 C above its air)" : "";
}

Judged verdict(FitAbout about, FitMark mark, double strain, std::string text) {
  return {about, "temperature", mark, strain, std::move(text)};
}

void judge_unheated(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const double room = air.room.moist.t.value;
  if (!air.room.temperature_fixed) {
    out.push_back(verdict(FitAbout::warming, FitMark::unknown, kept.band.low,
                          fmt::format("Nothing heats: {} is kept as long as the room is above {} "
                                      "C{}.",
                                      kept_words(air, kept),
                                      trimmed(kept.band.low - kept.above_min, 1), own_heat(kept))));
    return;
  }
  const double short_by = kept.band.low - room - kept.above_min;
  if (short_by <= 0) return;
  const bool own_heat_may_do = room + kept.above_max >= kept.band.low;
  out.push_back(verdict(
      FitAbout::warming, own_heat_may_do ? FitMark::tight : FitMark::cannot, short_by,
      fmt::format("{} is asked for, the room has {} C{}, and nothing heats. What works: a heater "
                  "of some {} W.",
                  kept_words(air, kept), trimmed(room, 1), own_heat(kept),
                  at_least(kTrust * loss_w_k(air.air, air.tubs) * (kept.band.low - room)))));
}

void judge_warming(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const auto heaters = air.with(Effect::heat);
  if (heaters.empty()) return judge_unheated(air, kept, out);
  const auto power = watts(heaters);
  if (!power) {
    out.push_back(
        verdict(FitAbout::warming, FitMark::unknown, 0,
                fmt::format("What {} holds is not known: give its rate in W.", ids(heaters))));
    return;
  }
  const double loss = loss_w_k(air.air, air.tubs);
  const double rise = *power / loss;
  std::string text = fmt::format(
      "{} W of {} hold {} L some {} C over the room (a plastic tub loses about {} W a C: assumed), "
      "so {} down to a room of {} C.",
      figure(*power), ids(heaters), figure(air.air.value), figure(rise), figure(loss),
      kept_words(air, kept), trimmed(kept.band.low - rise, 1));
  const double room = air.room.temperature_fixed ? air.room.moist.t.value : kCoolRoomC;
  const double asked = kept.band.low - room;
  FitMark mark = FitMark::fits;
  if (rise < kTrust * asked) {
    const bool far = air.room.temperature_fixed && rise * kTrust < asked;
    mark = far ? FitMark::cannot : FitMark::tight;
    text += fmt::format(" {} {} C. What works: some {} W there, or a warmer room.",
                        air.room.temperature_fixed ? "The room has" : "A cool cellar may have",
                        trimmed(room, 1), at_least(kTrust * asked * loss));
  }
  out.push_back(verdict(FitAbout::warming, mark, asked / rise, std::move(text)));
}

/// The crop's own heat, W.
double crop_w(const PhaseAir& air) {
  return air.substrate_kg ? breath_w(*air.substrate_kg, air.mushrooms_kg, air.t) : 0.0;
}

void judge_uncooled(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const double room = air.room.moist.t.value;
  const double loss = loss_w_k(air.air, air.tubs);
  const double reach = kept.band.high - kept.above_max;
  if (!air.room.temperature_fixed) {
    out.push_back(verdict(FitAbout::cooling, FitMark::unknown, -reach,
                          fmt::format("Nothing cools: {} is kept as long as the room is below {} "
                                      "C{}.",
                                      kept_words(air, kept), trimmed(reach, 1), own_heat(kept))));
    return;
  }
  const double crop = kept.above_max > 0 ? 0.0 : crop_w(air) / loss;
  if (room <= reach && room + crop <= kept.band.high) return;
  const bool never = room + kept.above_min > kept.band.high;
  const std::string gives = crop > 0 ? fmt::format(" (its crop's {} W lift it by up to {} C more)",
                                                   figure(crop * loss), figure(crop))
                                     : "";
  out.push_back(verdict(
      FitAbout::cooling, never ? FitMark::cannot : FitMark::tight, room - reach,
      fmt::format("{} is asked for, the room has {} C{}{}, and nothing cools: fresh air brings the "
                  "room's. What works: a room below {} C, or a cooler of some {} W.",
                  kept_words(air, kept), trimmed(room, 1), own_heat(kept), gives,
                  trimmed(reach - crop, 1),
                  at_least(kTrust * (loss * std::max(0.0, room - reach) + crop_w(air))))));
}

void judge_cooling(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const auto coolers = air.with(Effect::cool);
  if (coolers.empty()) return judge_uncooled(air, kept, out);
  const auto power = watts(coolers);
  if (!power) {
    out.push_back(
        verdict(FitAbout::cooling, FitMark::unknown, 0,
                fmt::format("What {} holds is not known: give its rate in W.", ids(coolers))));
    return;
  }
  const double loss = loss_w_k(air.air, air.tubs);
  const double reach = kept.band.high - kept.above_max + (*power - crop_w(air)) / loss;
  std::string text = fmt::format(
      "{} W of {} against the crop's {} W and a loss of about {} W a C (a plastic tub: assumed) "
      "hold {} up to a room of {} C.",
      figure(*power), ids(coolers), figure(crop_w(air)), figure(loss), kept_words(air, kept),
      trimmed(reach, 1));
  const double room = air.room.temperature_fixed ? air.room.moist.t.value : kWarmRoomC;
  const double asked = loss * (room - kept.band.high + kept.above_max) + crop_w(air);
  FitMark mark = FitMark::fits;
  if (*power < kTrust * asked) {
    const bool far = air.room.temperature_fixed && *power * kTrust < asked;
    mark = far ? FitMark::cannot : FitMark::tight;
    text += fmt::format(" {} {} C. What works: some {} W there, or a cooler room.",
                        air.room.temperature_fixed ? "The room has" : "A warm day may have",
                        trimmed(room, 1), at_least(kTrust * asked));
  }
  out.push_back(verdict(FitAbout::cooling, mark, asked / *power, std::move(text)));
}

void judge_sensor(const PhaseAir& air, const SensorPlan& sensor, const QuantitySource& source,
                  Verdicts& out) {
  const auto& plan = air.phase.of(source.quantity);
  if (!plan || !plan->keep || plan->keep->form != Keep::Form::between) return;
  const Band band = *air.band(source.quantity);
  const std::string subject = sensor.id + "/" + std::string(name_of(source.quantity));
  if (!source.accuracy) {
    out.push_back({FitAbout::sensor, subject, FitMark::unknown, 0,
                   fmt::format("How well {} knows {} is not said: give its accuracy, from the data "
                               "sheet.",
                               sensor.id, word_of(source.quantity))});
    return;
  }
  const Measure measure = measure_of(source.quantity);
  const std::string wide = amount_text(band.width(), measure);
  std::string text = fmt::format("{} knows {} to +- {}, and the band {} is {} wide", sensor.id,
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

void judge_heat(const PhaseAir& air, Verdicts& out) {
  const auto kept = temperature_of(air);
  if (!kept) return;
  judge_warming(air, *kept, out);
  judge_cooling(air, *kept, out);
}

void judge_sensors(const PhaseAir& air, Verdicts& out) {
  for (const SensorPlan& sensor : air.chamber.sensors) {
    for (const QuantitySource& source : sensor.quantities) judge_sensor(air, sensor, source, out);
  }
}

void judge_ceiling(const PhaseAir& air, const TubPlan& tub, Verdicts& out) {
  const auto kept = temperature_of(air);
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
        " What works: a band that ends at {} C, or, where the strain bears it, a "
        "ceiling above {} C.",
        trimmed(kept->band.high - (substrate.high - ceiling), 1), trimmed(substrate.high, 1));
  }
  out.push_back({FitAbout::ceiling, tub.id, mark, substrate.high - ceiling, std::move(text)});
}

}  // namespace tubwarden::fit
