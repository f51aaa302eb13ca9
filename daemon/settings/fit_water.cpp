#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/fit/fan.hpp"
#include "settings/fit_judge.hpp"

namespace tubwarden::fit {
namespace {

void judge_step(const PhaseAir& air, const ActuatorPlan& mister, const Band& band, Verdicts& out) {
  const Duration run = mister.limits.shortest_run;
  if (run <= Duration{0}) return;
  const double moves = rh_of_run(*mister.rate, run, air.air, air.t);
  const double quarter = band.width() * kStepOfBand;
  std::string text = fmt::format(
      "{} at {} g/h lifts {} L at {} C by {} % RH a second, so its shortest run of {} by {} %. A "
      "quarter of the band {} is {} %.",
      mister.id, figure(*mister.rate), figure(air.air.value), trimmed(air.t.value, 1),
      figure(rh_of_run(*mister.rate, seconds(1), air.air, air.t)), time_words(run), figure(moves),
      band_words(air, Quantity::humidity), trimmed(quarter, 2));
  FitMark mark = FitMark::fits;
  if (moves > quarter) {
    mark = moves > band.width() ? FitMark::cannot : FitMark::tight;
    text += fmt::format(" What works: at most {} g/h, or a shortest_run of {}.",
                        at_most(rate_for(quarter, run, air.air, air.t)),
                        time_at_most(run_for(quarter, *mister.rate, air.air, air.t)));
  }
  out.push_back({FitAbout::mist_step, mister.id, mark, moves / quarter, std::move(text)});
}

void judge_reach(const PhaseAir& air, const ActuatorPlan& mister, const Band& band, Verdicts& out) {
  const double allowed = room_above_start(band);
  const Duration longest = mister.limits.longest_run;
  const Reach reach = reach_of_run(band, *mister.rate, longest, kSensorLate, air.air, air.t);
  const std::string moves = figure(reach.moves);
  std::string text =
      reach.by_limit
          ? fmt::format("A longest run of {} ({}) lifts the air by {} %.", mister.id,
                        time_words(longest), moves)
          : fmt::format("A sensor is some {} late: until it stops {}, the air is lifted by {} %.",
                        time_words(kSensorLate), mister.id, moves);
  text += fmt::format(" From the start at {} % to the end of the band {} there are {} %.",
                      trimmed(band.low + band.width() / 4.0, 2),
                      band_words(air, Quantity::humidity), trimmed(allowed, 2));
  FitMark mark = FitMark::fits;
  if (reach.moves > allowed) {
    mark = FitMark::tight;
    text += fmt::format(" What works: a longest_run of {}, or a weaker mister.",
                        time_at_most(run_for(allowed, *mister.rate, air.air, air.t)));
  }
  out.push_back({FitAbout::mist_reach, mister.id, mark, reach.moves / allowed, std::move(text)});
}

/// g/h of the misters: running on, and at most within their limits as a mean of an hour.
struct Supply {
  double full = 0, within_limits = 0;
};
Supply supply_of(const std::vector<const ActuatorPlan*>& misters) {
  Supply sum;
  for (const ActuatorPlan* mister : misters) {
    sum.full += *mister->rate;
    sum.within_limits += *mister->rate * duty_max(mister->limits);
  }
  return sum;
}

/// What a wet casing gives, where there is one.
double casing_of(const PhaseAir& air, Moist kept) {
  if (!air.cased() || !air.substrate_kg) return 0.0;
  return casing_gives_g_h(*air.substrate_kg, air.mushrooms_kg > 0, kept);
}

bool rated(const std::vector<const ActuatorPlan*>& parts) {
  return std::all_of(parts.begin(), parts.end(),
                     [](const ActuatorPlan* part) { return part->rate.has_value(); });
}

}  // namespace

void judge_mist(const PhaseAir& air, Verdicts& out) {
  const auto band = air.band(Quantity::humidity);
  if (!band || band->width() <= 0) return;
  for (const ActuatorPlan* mister : air.with(Effect::humidify)) {
    if (!mister->rate) {
      out.push_back({FitAbout::mist_step, mister->id, FitMark::unknown, 0,
                     fmt::format("What a run of {} moves is not known: give its rate (weigh its "
                                 "tank before and after ten minutes).",
                                 mister->id)});
      continue;
    }
    judge_step(air, *mister, *band, out);
    judge_reach(air, *mister, *band, out);
  }
}

void judge_water(const PhaseAir& air, Verdicts& out) {
  const auto kept = air.kept();
  const auto misters = air.with(Effect::humidify);
  const AirAsked asked = air_asked(air);
  if (!kept || misters.empty() || !rated(misters) || asked.m3_h <= 0) return;
  const double takes = asked.m3_h * water_taken_g_m3(*kept, air.room.moist);
  const Supply supply = supply_of(misters);
  const double gives = supply.within_limits;
  if (gives <= 0) return;
  const std::string air_words = fmt::format("{} m3/h of fresh air, for {}, from {}",
                                            figure(asked.m3_h), asked.by, room_words(air.room));
  if (takes <= 0) {
    out.push_back({FitAbout::mist_water, "water", FitMark::fits, 0,
                   fmt::format("{} takes no water out: it is as moist as the band's middle, {} %.",
                               air_words, trimmed(kept->rh.value, 1))});
    return;
  }
  const double casing = casing_of(air, *kept);
  std::string text = fmt::format(
      "{} takes {} g of water an hour out at {} C and {} %. {} may run {} % of the time by its "
      "limits and "
      "gives {} g/h",
      air_words, figure(takes), trimmed(air.t.value, 1), trimmed(kept->rh.value, 1), ids(misters),
      figure(100.0 * gives / supply.full), figure(gives));
  if (casing > 0) text += fmt::format("; a wet casing gives some {} g/h more", figure(casing));
  text += ".";
  FitMark mark = FitMark::fits;
  if (gives < takes) {
    mark = kTrust * (gives + casing) < takes ? FitMark::cannot : FitMark::tight;
    if (!air.room.fixed() && mark == FitMark::cannot) mark = FitMark::tight;
    text += fmt::format(" What works: a rate or limits that give {} g/h.", at_least(takes));
  }
  out.push_back({FitAbout::mist_water, "water", mark, takes / gives, std::move(text)});
}

void judge_means(const PhaseAir& air, Verdicts& out) {
  const auto band = air.band(Quantity::humidity);
  const auto kept = air.kept();
  if (!band || !kept) return;
  const double casing = casing_of(air, *kept);
  const std::string gives =
      casing > 0 ? fmt::format("a wet casing some {} g an hour", figure(casing)) : "wet substrate";
  const double left_alone = rh_after_exchange(*kept, air.room.moist, 1e3).value;
  if (air.with(Effect::humidify).empty() && left_alone < band->low) {
    out.push_back(
        {FitAbout::wetting, "wetting",
         air.tubs > 0 || !air.room.fixed() ? FitMark::tight : FitMark::cannot,
         band->low - left_alone,
         fmt::format("Nothing mists. The air of {} has {} % at {} C, the band is {}; {}. What "
                     "works: a mister of at most {} g/h with a shortest_run of 1s.",
                     room_words(air.room), figure(left_alone), trimmed(air.t.value, 1),
                     band_words(air, Quantity::humidity),
                     air.tubs > 0 ? gives + " is all that moistens it" : "nothing else moistens it",
                     at_most(rate_for(band->width() * kStepOfBand, seconds(1), air.air, air.t)))});
  }
  if (air.phase.of(Quantity::humidity)->keep->form != Keep::Form::between) return;
  if (!air.with(Effect::dehumidify).empty()) return;
  if (air.with(Effect::fresh_air).empty()) {
    out.push_back(
        {FitAbout::drying, "drying", FitMark::tight, 1000,
         fmt::format("Nothing takes humidity down from {} %: there is neither fan nor "
                     "dehumidifier{}. What works: a fan.",
                     trimmed(band->high),
                     air.tubs > 0 ? fmt::format(", and {} moistens the air", gives) : "")});
  } else if (air.room.fixed() && left_alone >= band->high) {
    const bool aired = air_asked(air).m3_h > 0;
    out.push_back({FitAbout::drying, "drying", aired ? FitMark::cannot : FitMark::tight, left_alone,
                   fmt::format("The air of {} has {} % at {} C, and the band ends at {} %: fresh "
                               "air takes no humidity down{}. What works: a dehumidifier, or a "
                               "drier room.",
                               room_words(air.room), figure(left_alone), trimmed(air.t.value, 1),
                               trimmed(band->high), aired ? ", and it is asked for" : "")});
  }
}

}  // namespace tubwarden::fit
