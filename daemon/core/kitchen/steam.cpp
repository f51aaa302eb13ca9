#include "core/kitchen/steam.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

namespace tubwarden {
namespace {

/// IAPWS R7-97(2012), table 34; from memory, held by the check points of its table 35 and 36.
constexpr std::array<double, 11> kN = {0.0,
                                       0.11670521452767e4,
                                       -0.72421316703206e6,
                                       -0.17073846940092e2,
                                       0.12020824702470e5,
                                       -0.32325550322333e7,
                                       0.14915108613530e2,
                                       -0.48232657361591e4,
                                       0.40511340542057e6,
                                       -0.23855557567849,
                                       0.65017534844798e3};

constexpr double kPsiKpa = 6.894757;
constexpr double kGaugeMost = 205.0;  ///< kPa: 30 psi; household vessels have half
constexpr double kAltitudeMost = 5000.0;
constexpr double kF0Most = 120.0;
constexpr double kFrom = -50.0, kTo = 160.0;

std::vector<std::string> vessel_cautions() {
  return {
      "Steam under pressure scalds and throws lids. Follow the vessel's own book, never run above "
      "its rated pressure, and never force it open: let it cool by itself until the gauge says 0.",
      "Let it steam freely for 10 minutes before the weight goes on: air left inside makes the "
      "same "
      "pressure with less heat. Have the gauge checked each season.",
  };
}

}  // namespace

double steam_pressure_mpa(double kelvin) {
  const double x = kelvin + kN[9] / (kelvin - kN[10]);
  const double a = x * x + kN[1] * x + kN[2];
  const double b = kN[3] * x * x + kN[4] * x + kN[5];
  const double c = kN[6] * x * x + kN[7] * x + kN[8];
  return std::pow(2.0 * c / (-b + std::sqrt(b * b - 4.0 * a * c)), 4);
}

double steam_kelvin(double mpa) {
  const double beta = std::pow(mpa, 0.25);
  const double e = beta * beta + kN[3] * beta + kN[6];
  const double f = kN[1] * beta * beta + kN[4] * beta + kN[7];
  const double g = kN[2] * beta * beta + kN[5] * beta + kN[8];
  const double d = 2.0 * g / (-f - std::sqrt(f * f - 4.0 * e * g));
  const double s = kN[10] + d;
  return (s - std::sqrt(s * s - 4.0 * (kN[9] + kN[10] * d))) / 2.0;
}

Pascal standard_atmosphere(double metres) {
  return {101325.0 * std::pow(1.0 - 2.25577e-5 * metres, 5.2559)};
}

double lethal_rate(Celsius t) { return std::pow(10.0, (t.value - kLethalReference) / kLethalZ); }

Result<Lethality> lethality(std::span<const Probed> probe) {
  const auto bad = [](std::string text) { return Error{ErrorCode::bad_input, std::move(text)}; };
  if (probe.size() < 2) return bad("fewer than two readings; allowed: a log of two or more");
  Lethality found;
  found.lasted = probe.back().at - probe.front().at;
  found.hottest_c = probe.front().t.value;
  for (std::size_t i = 0; i < probe.size(); ++i) {
    const double t = probe[i].t.value;
    if (!(t >= kFrom && t <= kTo)) {
      return bad(fmt::format("reading {}: {:.1f} C; allowed: -50 to 160 C", i + 1, t));
    }
    found.hottest_c = std::max(found.hottest_c, t);
    if (i == 0) continue;
    const Duration gap = probe[i].at - probe[i - 1].at;
    if (gap <= Duration{0}) {
      return bad(fmt::format("reading {} is not later than the one before it", i + 1));
    }
    if (gap > kLethalGapMost) {
      return bad(
          fmt::format("{:.0f} s without a reading before reading {}; allowed: 5 minutes, for "
                      "the load may have fallen meanwhile",
                      seconds_of(gap), i + 1));
    }
    found.longest_gap = std::max(found.longest_gap, gap);
    found.f0 +=
        0.5 * (lethal_rate(probe[i - 1].t) + lethal_rate(probe[i].t)) * seconds_of(gap) / 60.0;
  }
  return found;
}

namespace {

Sum told_lethality(const Lethality& found, std::uint64_t readings) {
  Sum sum;
  sum.title = "Lethality of a log";
  sum.given = {{"readings", static_cast<double>(readings), "", 0},
               {"from first to last", seconds_of(found.lasted) / 60.0, "min", 1},
               {"longest time between two", seconds_of(found.longest_gap), "s", 0},
               {"hottest", found.hottest_c, "C", 1}};
  sum.formula = "F0 = trapezoid of 10^((T - 121.1 C) / 10 C) over the minutes";
  sum.found = {{"F0", found.f0, "min", 2}};
  sum.says = {
      "It is the F0 of the place where the probe was: put it into the middle of the middle jar. "
      "Steam beside a jar is hot long before its grain is."};
  sum.source =
      "FDA, proposed rule of 1 June 1976, 21 CFR 212.3: reference 121.1 C (250 F), z = 10 C (18 F)";
  sum.cautions = vessel_cautions();
  return sum;
}

}  // namespace

Result<Sum> lethality_sum(std::span<const Probed> probe) {
  const auto found = lethality(probe);
  if (!found.ok()) return found.error();
  return told_lethality(*found, probe.size());
}

void LethalityWatch::add(const Probed& reading) {
  const double t = reading.t.value;
  if (!(t >= kFrom && t <= kTo) || (last_ && reading.at <= last_->at)) return;
  found_.hottest_c = readings_ == 0 ? t : std::max(found_.hottest_c, t);
  ++readings_;
  if (last_) {
    const Duration gap = reading.at - last_->at;
    found_.lasted += gap;
    if (gap > kLethalGapMost) {
      unsampled_ += gap;
    } else {
      found_.longest_gap = std::max(found_.longest_gap, gap);
      found_.f0 += 0.5 * (lethal_rate(last_->t) + lethal_rate(reading.t)) * seconds_of(gap) / 60.0;
    }
  }
  last_ = reading;
}

Sum LethalityWatch::sum(double f0_wanted) const {
  Sum sum = told_lethality(found_, readings_);
  sum.title = "Lethality as it was read";
  sum.given.push_back({"wanted F0", f0_wanted, "min", 1});
  sum.says.insert(sum.says.begin(),
                  found_.f0 >= f0_wanted
                      ? "The wanted F0 was reached where the probe is."
                      : "The wanted F0 was not reached: what was in the vessel is not sterile.");
  if (unsampled_ > Duration{0}) {
    sum.says.push_back(fmt::format(
        "For {:.0f} min no reading came for longer than 5 minutes; they are not counted, for the "
        "load may have fallen meanwhile.",
        seconds_of(unsampled_) / 60.0));
  }
  return sum;
}

Result<Sum> hold_sum(const HoldWish& wish) {
  const auto bad = [](const char* text) { return Error{ErrorCode::bad_input, text}; };
  if (!(wish.gauge_kpa >= 0.0 && wish.gauge_kpa <= kGaugeMost)) {
    return bad("the gauge says 0 to 30 psi, at most what the vessel is rated for");
  }
  if (!(wish.altitude_m >= -500.0 && wish.altitude_m <= kAltitudeMost)) {
    return bad("the altitude is -500 m to 5000 m");
  }
  if (!(wish.f0 > 0.0 && wish.f0 <= kF0Most))
    return bad("the F0 is above 0 and at most 120 minutes");
  const double air_kpa = standard_atmosphere(wish.altitude_m).value / 1000.0;
  const double celsius = steam_kelvin((air_kpa + wish.gauge_kpa) / 1000.0) - 273.15;
  const double rate = lethal_rate({celsius});
  Sum sum;
  sum.title = "Hold time at a gauge pressure and an altitude";
  sum.given = {{"gauge pressure", wish.gauge_kpa / kPsiKpa, "psi", 1},
               {"altitude", wish.altitude_m, "m", 0},
               {"wanted F0", wish.f0, "min", 1}};
  sum.formula =
      "steam = saturation temperature at atmosphere + gauge; time = F0 / 10^((steam - 121.1 C) / "
      "10 C)";
  sum.found = {{"atmosphere", air_kpa, "kPa", 1},
               {"steam", celsius, "C", 1},
               {"a minute there is worth", rate, "min at 121.1 C", 3},
               {"the load's middle holds it for", wish.f0 / rate, "min", 1}};
  sum.says = {
      "The time begins when the middle of the load is that hot, not when the weight rattles; a "
      "full "
      "vessel of grain takes half an hour or more to get there. Measure it once with a probe: "
      "tubwarden kitchen lethality FILE."};
  if (rate < 0.2) {
    sum.says.push_back(
        "That is a long time: at this pressure a smaller jar helps more than a longer wait. The "
        "vessel's rating is the end of the pressure.");
  }
  sum.source =
      "IAPWS-IF97 region 4; standard atmosphere of ASHRAE Fundamentals, chapter 1; F0 as of FDA "
      "1976, "
      "21 CFR 212.3";
  sum.cautions = vessel_cautions();
  return sum;
}

}  // namespace tubwarden
