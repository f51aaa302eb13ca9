#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/fit/fan.hpp"
#include "core/fit/heat.hpp"
#include "settings/fit_judge.hpp"

namespace tubwarden::fit {
namespace {

/// A room that a cooler is to cope with where the room's temperature is not fixed (a choice).
constexpr double kWarmRoomC = 30.0;

/// What they give in the long run: within their limits, and within the share of a slow duty.
std::optional<double> watts(const PhaseAir& air, const KeptTemperature& kept,
                            const std::vector<const ActuatorPlan*>& parts) {
  const bool shared =
      kept.quantity == Quantity::substrate_temperature && air.chamber.control == Control::portions;
  double sum = 0;
  for (const ActuatorPlan* part : parts) {
    if (!part->rate) return std::nullopt;
    const double most = shared ? static_cast<double>(part->duty.most) / kRun : 1.0;
    sum += *part->rate * std::min(most, duty_max(part->limits));
  }
  return sum;
}

std::string own_heat(const KeptTemperature& kept) {
  return kept.above_max > 0 ? " (working substrate stands 1 to 3 C above its air)" : "";
}

Judged verdict(const KeptTemperature& kept, FitAbout about, FitMark mark, double strain,
               std::string text) {
  return {about, std::string(name_of(kept.quantity)), mark, strain, std::move(text)};
}

/// What a watt of heater does to the temperature kept, and what one of the heater that would work
/// does.
struct Heating {
  double rise = 0, rise_that_works = 0;  ///< K over the room
  const char* lifts = "the air";
  const char* works = "an air heater";
};
/// A tub's own heater is a mat under it; one of a shared chamber heats the air. Nothing where a
/// mat's substrate is not known.
std::optional<Heating> heating_of(const PhaseAir& air, const KeptTemperature& kept) {
  const double by_air = 1.0 / loss_w_k(air.air, air.tubs);
  if (!air.own_air) return Heating{by_air, by_air};
  if (!air.substrate_kg || *air.substrate_kg <= 0) return std::nullopt;
  const MatRise rise = mat_rise(1.0, air.air, *air.substrate_kg);
  // A mat strong enough to warm the air would cook the substrate.
  if (kept.quantity == Quantity::air_temperature) {
    return Heating{rise.air, by_air, "the air through the substrate"};
  }
  return Heating{rise.substrate, rise.substrate, "the substrate", "a mat"};
}

void judge_unheated(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const double room = air.room.moist.t.value;
  if (!air.room.temperature_fixed) {
    out.push_back(verdict(kept, FitAbout::warming, FitMark::unknown, kept.band.low,
                          fmt::format("Nothing heats: {} is kept as long as the room is above {} "
                                      "C{}.",
                                      kept_words(air, kept),
                                      trimmed(kept.band.low - kept.above_min, 1), own_heat(kept))));
    return;
  }
  const double short_by = kept.band.low - room - kept.above_min;
  if (short_by <= 0) return;
  const bool own_heat_may_do = room + kept.above_max >= kept.band.low;
  const auto heating = heating_of(air, kept);
  std::string text = fmt::format("The phase asks for {}, the room has {} C{}, and nothing heats.",
                                 kept_words(air, kept), trimmed(room, 1), own_heat(kept));
  if (heating) {
    text += fmt::format(" What works: {} of some {} W.", heating->works,
                        at_least(kTrust * (kept.band.low - room) / heating->rise_that_works));
  }
  out.push_back(verdict(kept, FitAbout::warming, own_heat_may_do ? FitMark::tight : FitMark::cannot,
                        short_by, std::move(text)));
}

void judge_warming(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const auto heaters = air.with(Effect::heat);
  if (heaters.empty()) return judge_unheated(air, kept, out);
  const auto power = watts(air, kept, heaters);
  const auto heating = heating_of(air, kept);
  if (!power || !heating) {
    // Of both temperatures alike: one line.
    out.push_back({FitAbout::warming, ids(heaters), FitMark::unknown, 0,
                   fmt::format("How far {} warms is not known: give {}.", ids(heaters),
                               power ? "the tub's substrate: in kg" : "its rate in W")});
    return;
  }
  const double rise = *power * heating->rise;
  std::string text = fmt::format(
      "{} with {} W lifts {} some {} C over the room ({} W a C, assumed for a plastic tub), which "
      "keeps {} in a room of {} C or more.",
      ids(heaters), figure(*power), heating->lifts, figure(rise), figure(1.0 / heating->rise),
      kept_words(air, kept), trimmed(kept.band.low - rise, 1));
  const double room = air.room.temperature_fixed ? air.room.moist.t.value : kCoolRoomC;
  const double asked = kept.band.low - room;
  FitMark mark = FitMark::fits;
  if (rise < kTrust * asked) {
    const bool far = air.room.temperature_fixed && rise * kTrust < asked;
    mark = far ? FitMark::cannot : FitMark::tight;
    text += fmt::format(" {} {} C. What works: {} of some {} W there, or a warmer room.",
                        air.room.temperature_fixed ? "The room has" : "A cool cellar may have",
                        trimmed(room, 1), heating->works,
                        at_least(kTrust * asked / heating->rise_that_works));
  }
  out.push_back(verdict(kept, FitAbout::warming, mark, asked / rise, std::move(text)));
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
    out.push_back(verdict(kept, FitAbout::cooling, FitMark::unknown, -reach,
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
      kept, FitAbout::cooling, never ? FitMark::cannot : FitMark::tight, room - reach,
      fmt::format(
          "The phase asks for {}, the room has {} C{}{}, and nothing cools: fresh air brings the "
          "room's. What works: a room below {} C, or a cooler of some {} W.",
          kept_words(air, kept), trimmed(room, 1), own_heat(kept), gives, trimmed(reach - crop, 1),
          at_least(kTrust * (loss * std::max(0.0, room - reach) + crop_w(air))))));
}

void judge_cooling(const PhaseAir& air, const KeptTemperature& kept, Verdicts& out) {
  const auto coolers = air.with(Effect::cool);
  if (coolers.empty()) return judge_uncooled(air, kept, out);
  const auto power = watts(air, kept, coolers);
  if (!power) {
    out.push_back(
        verdict(kept, FitAbout::cooling, FitMark::unknown, 0,
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
  out.push_back(verdict(kept, FitAbout::cooling, mark, asked / *power, std::move(text)));
}

}  // namespace

void judge_heat(const PhaseAir& air, Verdicts& out) {
  const auto kept = kept_temperature(air);
  if (!kept) return;
  judge_warming(air, *kept, out);
  judge_cooling(air, *kept, out);
}

}  // namespace tubwarden::fit
