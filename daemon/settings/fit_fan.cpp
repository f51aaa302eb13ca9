#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "core/climate/fresh_air.hpp"
#include "core/fit/fan.hpp"
#include "settings/fit_judge.hpp"

namespace tubwarden::fit {
namespace {

bool calls_for_co2(const PhaseAir& air) {
  const auto order = fan_order(air.phase.name);
  return air.phase.of(Quantity::co2) && air.phase.of(Quantity::co2)->keep &&
         std::find(order.begin(), order.end(), FanMaster::co2) != order.end();
}

std::string crop_words(const PhaseAir& air) {
  const std::string mushrooms =
      air.mushrooms_kg > 0 ? fmt::format(" under a full flush of {} kg", figure(air.mushrooms_kg))
                           : "";
  return fmt::format("{} kg of substrate{}", figure(*air.substrate_kg), mushrooms);
}

LitresPerHour breath_of(const PhaseAir& air) {
  return breath_l_h(*air.substrate_kg, air.mushrooms_kg, air.t);
}

/// What keeps a fan from the floor, and what would not; nothing when it holds it.
std::optional<std::string> wrong_with_floor(const PhaseAir& air, const ActuatorPlan& fan,
                                            const FloorNeed& need) {
  const FreshAirFloor& floor = *air.phase.fresh_air;
  if (need.run > floor.every) {
    return fmt::format("That is more than there is. What works: a fan of at least {} m3/h.",
                       at_least(floor_rate_m3_h(floor, air.air)));
  }
  const RunLimits& limits = fan.limits;
  if (need.takes > floor.every) {
    return fmt::format(
        "Its longest_run of {} and the rests between make that {}. What works: a "
        "longest_run of at least {}, or a stronger fan.",
        time_words(limits.longest_run), time_words(need.takes), time_at_least(need.run));
  }
  if (limits.starts_per_hour > 0 && need.starts_per_hour > limits.starts_per_hour) {
    return fmt::format(
        "That is {} starts an hour, and its limits allow {}. What works: "
        "starts_per_hour of at least {}, or a longest_run of {}.",
        at_least(need.starts_per_hour), limits.starts_per_hour, at_least(need.starts_per_hour),
        time_at_least(need.run));
  }
  return std::nullopt;
}

void judge_floor(const PhaseAir& air, const std::vector<const ActuatorPlan*>& fans, Verdicts& out) {
  const FreshAirFloor& floor = *air.phase.fresh_air;
  if (fans.empty()) {
    out.push_back(
        {FitAbout::floor, "floor", FitMark::cannot, 1000,
         fmt::format("The floor asks for {} of fresh air in every {}, and there is no "
                     "fan. What works: one of at least {} m3/h.",
                     floor.changes == 1 ? "1 change" : trimmed(floor.changes) + " changes",
                     time_words(floor.every), at_least(floor_rate_m3_h(floor, air.air)))});
    return;
  }
  for (const ActuatorPlan* fan : fans) {
    if (!fan->rate) continue;
    const FloorNeed need = floor_need(floor, *fan->rate, air.air, fan->limits);
    std::string text = fmt::format(
        "The floor of {} x {} L in every {} takes {} of {} ({} m3/h), {} % of the time.",
        trimmed(floor.changes), figure(air.air.value), time_words(floor.every),
        time_at_least(need.run), fan->id, figure(*fan->rate), figure(100.0 * need.share));
    const auto wrong = wrong_with_floor(air, *fan, need);
    if (wrong) text += " " + *wrong;
    out.push_back({FitAbout::floor, fan->id, wrong ? FitMark::cannot : FitMark::fits, need.share,
                   std::move(text)});
  }
}

/// Where humidity stands when the fan may start: anywhere for floor and CO2, so the middle; above
/// its start point where only humidity calls. Nothing where neither does.
std::optional<Moist> when_fan_starts(const PhaseAir& air, const Band& band) {
  if (air.phase.fresh_air || calls_for_co2(air)) return air.kept();
  if (air.phase.of(Quantity::humidity)->keep->form != Keep::Form::between) return std::nullopt;
  return Moist{air.t, {band.high - band.width() / 4.0}};
}

void judge_fan_step(const PhaseAir& air, const ActuatorPlan& fan, Verdicts& out) {
  const auto band = air.band(Quantity::humidity);
  const Duration run = fan.limits.shortest_run;
  const auto from = band ? when_fan_starts(air, *band) : std::nullopt;
  if (!from || run <= Duration{0}) return;
  const double changes = changes_of_run(*fan.rate, run, air.air);
  const double left = rh_after_exchange(*from, air.room.moist, changes).value;
  if (left >= from->rh.value) return;  // the room is as moist: nothing to mind
  std::string text = fmt::format(
      "The shortest run of {} ({} at {} m3/h) changes {} % of the {} L and takes humidity from {} "
      "to {} % in {}.",
      fan.id, time_words(run), figure(*fan.rate), figure(100.0 * changes), figure(air.air.value),
      trimmed(from->rh.value, 1), trimmed(left, 1), room_words(air.room));
  FitMark mark = FitMark::fits;
  const auto most = changes_until(*from, air.room.moist, {band->low});
  if (left < band->low && most) {
    mark = FitMark::tight;
    text += fmt::format(
        " That is below the band {}. What works: a shortest_run of {}, or a fan of at most {} "
        "m3/h.",
        band_words(air, Quantity::humidity),
        time_at_most(from_seconds(seconds_of(run) * *most / changes)),
        at_most(*fan.rate * *most / changes));
  }
  out.push_back({FitAbout::fan_step, fan.id, mark,
                 (from->rh.value - left) / (from->rh.value - band->low), std::move(text)});
}

}  // namespace

AirAsked air_asked(const PhaseAir& air) {
  AirAsked asked;
  if (air.phase.fresh_air) asked = {floor_rate_m3_h(*air.phase.fresh_air, air.air), "the floor"};
  if (!calls_for_co2(air) || !air.substrate_kg) return asked;
  const double limit = air.phase.of(Quantity::co2)->keep->high;
  const auto breath = air_for_m3_h(breath_of(air), {limit}, air.room.co2);
  if (breath && *breath > asked.m3_h) asked = {*breath, "CO2"};
  return asked;
}

void judge_fan(const PhaseAir& air, Verdicts& out) {
  const auto fans = air.with(Effect::fresh_air);
  if (air.phase.fresh_air) judge_floor(air, fans, out);
  for (const ActuatorPlan* fan : fans) {
    if (fan->rate) {
      judge_fan_step(air, *fan, out);
    } else {
      out.push_back({FitAbout::floor, fan->id, FitMark::unknown, 0,
                     fmt::format("What {} moves is not known: give its rate.", fan->id)});
    }
  }
}

void judge_breath(const PhaseAir& air, Verdicts& out) {
  if (!calls_for_co2(air)) return;
  const double limit = air.phase.of(Quantity::co2)->keep->high;
  const auto add = [&](FitMark mark, double strain, std::string text) {
    out.push_back({FitAbout::co2, "breath", mark, strain, std::move(text)});
  };
  if (limit <= air.room.co2.value) {
    add(FitMark::cannot, 1000,
        fmt::format("Fresh air brings {} ppm of CO2 and {} ppm are asked for. What works: a "
                    "keep_below well above the room's.",
                    figure(air.room.co2.value), figure(limit)));
    return;
  }
  if (!air.substrate_kg) {
    add(FitMark::unknown, 0,
        "What the crop breathes is not known: give substrate: in the file of each tub here.");
    return;
  }
  const auto fans = air.with(Effect::fresh_air);
  const auto air_for = [&](double ppm) {
    return *air_for_m3_h(breath_of(air), {ppm}, air.room.co2);
  };
  const double middle = air.room.co2.value + (limit - air.room.co2.value) / 2.0;
  const double need = air_for(limit), need_to_rest = air_for(middle);
  std::string text = fmt::format(
      "{} breathes some {} L of CO2 an hour at {} C; below {} ppm takes {} m3/h of fresh air at {} "
      "ppm.",
      crop_words(air), figure(breath_of(air).value), trimmed(air.t.value, 1), figure(limit),
      figure(need), figure(air.room.co2.value));
  double full = 0, within_limits = 0;
  for (const ActuatorPlan* fan : fans) {
    if (!fan->rate) return;  // judge_fan says so
    full += *fan->rate;
    within_limits += *fan->rate * duty_max(fan->limits);
  }
  if (fans.empty()) {
    add(FitMark::cannot, 1000,
        text + fmt::format(" There is no fan. What works: one of at least {} m3/h.",
                           at_least(need_to_rest)));
    return;
  }
  text += fmt::format(" {} ({} m3/h) needs {} % of the time for it", ids(fans), figure(full),
                      figure(100.0 * need / full));
  if (within_limits < full) {
    text += fmt::format(" and may run {} % by its limits", figure(100.0 * within_limits / full));
  }
  text += ".";
  FitMark mark = FitMark::fits;
  if (need > within_limits) {
    mark = FitMark::cannot;
  } else if (need_to_rest > within_limits) {
    mark = FitMark::tight;
    text += fmt::format(" It stops at {} ppm, which takes {} m3/h: it would hardly ever stop.",
                        figure(middle), figure(need_to_rest));
  }
  if (mark != FitMark::fits && full < need_to_rest) {
    text += fmt::format(" What works: at least {} m3/h.", at_least(need_to_rest));
  } else if (mark != FitMark::fits) {
    text += fmt::format(" What works: limits that let it run {} % of the time.",
                        at_least(100.0 * need_to_rest / full));
  }
  add(mark, need / within_limits, std::move(text));
}

}  // namespace tubwarden::fit
