#include "core/kitchen/breath.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/air/psychrometrics.hpp"

namespace tubwarden {
namespace {

constexpr double kCompostGramsKgH = 0.045;
constexpr double kMushroomGramsKgH = 1.056;
constexpr double kAtCelsius = 16.0;
constexpr double kPerKelvin = 1.2;
constexpr double kCo2Molar = 44.0095;  // g/mol
constexpr double kGas = 8.314462618;   // J/(mol K)

Error refusal(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

constexpr const char* kCo2Caution =
    "CO2 at 5000 ppm is the limit of a working day (OSHA PEL, 29 CFR 1910.1000), and it lies low: "
    "air "
    "a room before you work in it, and do not enter one where flames go out.";

}  // namespace

double co2_grams_per_hour(double compost_kg, double mushrooms_kg, Celsius t) {
  return (compost_kg * kCompostGramsKgH + mushrooms_kg * kMushroomGramsKgH) *
         std::pow(kPerKelvin, t.value - kAtCelsius);
}

double co2_grams_per_litre(Celsius t) {
  return kSeaLevel.value * kCo2Molar / (kGas * (t.value + 273.15)) / 1000.0;
}

Result<Sum> fresh_air_sum(const FreshAirWish& wish) {
  const bool masses = wish.compost_kg >= 0.0 && wish.mushrooms_kg >= 0.0 &&
                      wish.compost_kg + wish.mushrooms_kg > 0.0 && wish.compost_kg <= 5000.0 &&
                      wish.mushrooms_kg <= 2000.0;
  if (!masses) return refusal("compost and mushrooms are 0 kg or more, and not both 0");
  if (!(wish.celsius >= 8.0 && wish.celsius <= 26.0)) {
    return refusal("the temperature is 8 C to 26 C; elsewhere the rule of 20 % a kelvin is wrong");
  }
  if (!(wish.room_ppm > 0.0 && wish.keep_below_ppm > wish.room_ppm)) {
    return refusal(
        fmt::format("{:.0f} ppm cannot be kept by air of {:.0f} ppm; allowed: a level above "
                    "the room's",
                    wish.keep_below_ppm, wish.room_ppm));
  }
  const double grams = co2_grams_per_hour(wish.compost_kg, wish.mushrooms_kg, {wish.celsius});
  const double litres = grams / co2_grams_per_litre({wish.celsius});
  const double m3_h = litres / (wish.keep_below_ppm - wish.room_ppm) * 1000.0;
  Sum sum;
  sum.title = "Fresh air to hold a CO2 level";
  sum.given = {{"compost", wish.compost_kg, "kg", 2},
               {"mushrooms on it", wish.mushrooms_kg, "kg", 2},
               {"temperature", wish.celsius, "C", 1},
               {"CO2 kept below", wish.keep_below_ppm, "ppm", 0},
               {"CO2 of the room", wish.room_ppm, "ppm", 0}};
  sum.formula =
      "CO2 = (0.045 g/h x kg compost + 1.056 g/h x kg mushrooms) x 1.2^(T - 16 C); air = CO2 / "
      "(level "
      "- room)";
  sum.found = {{"CO2 made", grams, "g/h", 2},
               {"CO2 made, as gas", litres, "L/h", 2},
               {"fresh air", m3_h, "m3/h", 2}};
  if (wish.net_l && *wish.net_l > 0.0) {
    sum.given.push_back({"net air", *wish.net_l, "L", 1});
    sum.found.push_back({"air changes", m3_h * 1000.0 / *wish.net_l, "1/h", 1});
  }
  sum.says = {
      "The air's mean, well mixed. A fan that runs a part of the time moves this in the mean; half "
      "as "
      "much again is a fair margin, for the rates are known to a factor of two."};
  sum.source =
      "rates: a growers' manual quoted second hand, no primary source; balance: steady state of "
      "one "
      "well mixed zone (ASTM D6245)";
  sum.cautions = {kCo2Caution};
  return sum;
}

Result<Sum> air_changes_sum(std::span<const Co2Sample> samples, Ppm background,
                            std::optional<double> net_l) {
  if (samples.size() < kDecayReadingsLeast) {
    return refusal(fmt::format("{} readings; allowed: 10 or more of one decay", samples.size()));
  }
  const double first = samples.front().co2.value - background.value;
  const double last = samples.back().co2.value - background.value;
  if (!(first > 0.0) || !(last > 0.0) || last > first * 2.0 / 3.0) {
    return refusal(fmt::format(
        "from {:.0f} to {:.0f} ppm over a background of {:.0f} ppm is no decay to read a rate "
        "from; "
        "allowed: a third of what stands above the background gone, or more, and none below it",
        samples.front().co2.value, samples.back().co2.value, background.value));
  }
  const auto fit = fit_decay(samples, background);
  if (!fit || !(fit->r_squared >= kDecayFitLeast)) {
    return refusal(
        fmt::format("the readings do not fall as a decay does (R2 {:.3f}, allowed: 0.95 or more). "
                    "Was something "
                    "breathing in there, the lid moved, or the fan on for a part of it?",
                    fit ? fit->r_squared : 0.0));
  }
  Sum sum;
  sum.title = "Air changes from a decay";
  sum.given = {{"readings", static_cast<double>(samples.size()), "", 0},
               {"first", samples.front().co2.value, "ppm", 0},
               {"last", samples.back().co2.value, "ppm", 0},
               {"over", seconds_of(samples.back().at - samples.front().at) / 60.0, "min", 1},
               {"background", background.value, "ppm", 0}};
  sum.formula = "slope of ln(C - background) against time";
  sum.found = {{"air changes", fit->rate.value, "1/h", 3},
               {"R2 of the line", fit->r_squared, "", 4}};
  if (net_l && *net_l > 0.0) {
    sum.given.push_back({"net air", *net_l, "L", 1});
    sum.found.push_back({"flow", fit->rate.value * *net_l / 1000.0, "m3/h", 3});
  }
  sum.says = {
      "With the fan at rest it is the leak; with the fan running, fan and leak. A substrate that "
      "breathes makes it look smaller: take it with an empty tub."};
  sum.source = "ASTM E741, the decay of a tracer gas in one zone";
  sum.cautions = {kCo2Caution};
  return sum;
}

Result<Sum> dew_sum(Celsius t, Percent rh) {
  if (!(t.value >= -20.0 && t.value <= 60.0 && rh.value > 0.0 && rh.value <= 100.0)) {
    return refusal("the temperature is -20 C to 60 C, the humidity above 0 % and at most 100 %");
  }
  const Pascal vapour = vapour_pressure(t, rh);
  const auto dew = dew_point(vapour);
  if (!dew) return refusal("so dry an air has no dew point here");
  Sum sum;
  sum.title = "Dew point";
  sum.given = {{"temperature", t.value, "C", 1}, {"humidity", rh.value, "%", 1}};
  sum.formula = "the temperature at which the air's vapour pressure is that of saturation";
  sum.found = {
      {"dew point", dew->value, "C", 2},
      {"vapour pressure", vapour.value / 1000.0, "kPa", 3},
      {"humidity ratio", humidity_ratio(t, rh) * 1000.0, "g/kg", 2},
      {"vapour pressure deficit", vapour_pressure_deficit(t, rh).value / 1000.0, "kPa", 3}};
  sum.says = {
      "What is colder than the dew point is wetted: a wall, a lid, caps taken from the cold."};
  sum.source = "ASHRAE Fundamentals, chapter 1 (Hyland-Wexler), at 101325 Pa";
  return sum;
}

}  // namespace tubwarden
