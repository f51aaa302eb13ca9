#include "rehearsal/fit_advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "core/fit/water.hpp"
#include "rehearsal/grow.hpp"

namespace tubwarden::rehearsal {
namespace {

/// A rate that is off by less is right.
constexpr double kRateOff = 0.1;
/// A limit that is off by less may stay.
constexpr double kLimitOff = 0.15;
/// A first-order lag shows nine tenths of a step after 2.3 times itself.
constexpr double kNineTenths = 2.303;
/// A band is held by noise and drift that fill half of it at most.
constexpr double kOfNoise = 4.0;
constexpr double kOfDrift = 2.0;

/// As the configuration takes it.
std::string limit_words(Duration d) {
  if (d < seconds(1)) return spoken(d);
  return d < minutes(2) ? trimmed(seconds_of(d), 1) + "s" : spoken(d);
}

class Adviser {
 public:
  Adviser(const TubFit& fit, const FitAdviceFor& tub) : fit_(fit), tub_(tub) {
    if (tub.phase == nullptr) return;
    const auto& plan = tub.phase->of(Quantity::humidity);
    if (plan && plan->keep && plan->keep->form == Keep::Form::between) {
      band_ = Band{plan->keep->low, plan->keep->high};
    }
  }

  std::vector<FitAdvice> all() {
    rates(Effect::humidify, FitOf::mist);
    rates(Effect::fresh_air, FitOf::fan);
    for (const ActuatorPlan& a : tub_.chamber.actuators) {
      if (a.effect != Effect::humidify) continue;
      longest_run(a);
      shortest_rest(a);
    }
    band();
    return std::move(out_);
  }

 private:
  const FittedFigure* told(FitOf of) const {
    const FittedFigure* figure = fit_.of(of);
    return figure != nullptr && figure->told ? figure : nullptr;
  }

  /// The rate of each actuator of an effect: they share one figure.
  void rates(Effect effect, FitOf of) {
    const FittedFigure* figure = told(of);
    if (figure == nullptr) return;
    const double share = figure->value / figure->usual;
    const bool right = std::fabs(share - 1.0) < kRateOff ||
                       (figure->low <= figure->usual && figure->usual <= figure->high);
    for (const ActuatorPlan& a : tub_.chamber.actuators) {
      if (a.effect != effect) continue;
      const auto unit = rate_unit(effect);
      const std::string now = a.rate ? fmt::format("{} {}", trimmed(*a.rate), unit) : "";
      if (a.rate && right) {
        out_.push_back({a.id, "rate", now, "", "It gives what its rate says."});
        continue;
      }
      const double rate = share * a.rate.value_or(figure->usual);
      out_.push_back({a.id, "rate", now,
                      fmt::format("{} {}", trimmed(rate, rate < 10.0 ? 2 : 0), unit),
                      fmt::format("It gives {} % of it, and its portions begin with the rate.",
                                  trimmed(100.0 * share, 0))});
      if (!a.rate) out_.back().why = "Its portions begin with the rate.";
    }
  }

  /// From the start point a run must not lift the air beyond the band's far edge, whatever the
  /// sensor still shows.
  void longest_run(const ActuatorPlan& mister) {
    const FittedFigure* mist = told(FitOf::mist);
    if (mist == nullptr || !band_) return;
    const double rate = mister.rate.value_or(mist->usual) * mist->value / mist->usual;
    const Duration longest =
        fit::run_for(fit::room_above_start(*band_), rate, air(), Celsius{tub_.celsius});
    limit(mister, "longest_run", mister.limits.longest_run, longest, true,
          fmt::format("So long a run lifts the air from the start point to {} %.",
                      trimmed(band_->high)));
  }

  /// The next run waits until the last can be seen.
  void shortest_rest(const ActuatorPlan& mister) {
    const FittedFigure* lag = told(FitOf::humidity_lag);
    const FittedFigure* dead = told(FitOf::dead_time);
    if (lag == nullptr || dead == nullptr) return;
    const double middle = band_ ? band_->middle() : tub_.humidity_pct;
    const double dry = std::max(1.0 - middle / 100.0, 0.02);
    const FittedFigure* life = told(FitOf::droplet_life);
    const double drops_s = (life != nullptr ? life->value : 1.0) / dry;
    const double seen_s = dead->value + drops_s + kNineTenths * lag->value;
    limit(mister, "shortest_rest", mister.limits.shortest_rest, from_seconds(seen_s), false,
          "Nine tenths of a run can be seen after so long: dead time, droplets, the sensor's lag.");
  }

  void limit(const ActuatorPlan& a, const char* key, Duration now, Duration found, bool at_most,
             std::string why) {
    const double step_s = found < seconds(10) ? 0.1 : 1.0;
    const double rounded = seconds_of(found) / step_s;
    const Duration whole =
        from_seconds(step_s * std::max(at_most ? std::floor(rounded) : std::ceil(rounded), 1.0));
    const double share = seconds_of(now) / seconds_of(whole);
    const bool stays =
        now > Duration{0} && (at_most ? share < 1.0 + kLimitOff : share > 1.0 - kLimitOff);
    out_.push_back({a.id, key, now > Duration{0} ? limit_words(now) : "",
                    stays ? "" : limit_words(whole), std::move(why)});
    if (stays)
      out_.back().why = fmt::format("{} {} is {}.", at_most ? "At most" : "At least",
                                    limit_words(whole), "what this tub asks for");
  }

  /// The narrowest band: four shortest runs wide, as `check` has it, twice what the air drifts
  /// before anybody can know, and clear of the sensor's noise.
  void band() {
    const FittedFigure* leak = told(FitOf::leak);
    const FittedFigure* lag = told(FitOf::humidity_lag);
    const FitMisfit& misfit = fit_.misfit[index_of(Quantity::humidity)];
    if (!band_ || leak == nullptr || lag == nullptr || misfit.readings == 0) return;
    const FittedFigure* dead = told(FitOf::dead_time);
    const double late_s = tub_.reading_each_s + lag->value + (dead != nullptr ? dead->value : 0.0);
    const double drift = leak->value / 3600.0 * late_s * std::fabs(band_->middle() - room_rh());
    const double noise = misfit.rms;
    double width = std::max(kOfNoise * noise, kOfDrift * drift);
    std::string by = width > kOfNoise * noise ? "the air drifts so far before the sensor shows it"
                                              : "the sensor tells no less apart";
    if (const FittedFigure* mist = told(FitOf::mist)) {
      for (const ActuatorPlan& a : tub_.chamber.actuators) {
        if (a.effect != Effect::humidify) continue;
        const double rate = a.rate.value_or(mist->usual) * mist->value / mist->usual;
        const double step =
            fit::rh_of_run(rate, a.limits.shortest_run, air(), Celsius{tub_.celsius});
        if (step / fit::kStepOfBand <= width) continue;
        width = step / fit::kStepOfBand;
        by = fmt::format("one shortest run of {} lifts the air by a quarter of that", a.id);
      }
    }
    const std::string now = fmt::format("{}..{} %", trimmed(band_->low), trimmed(band_->high));
    const std::string narrowest =
        fmt::format("The narrowest that can be held here is {} % wide: {}.",
                    trimmed(std::ceil(width * 10.0) / 10.0, 1), by);
    std::string suggested;
    if (width > band_->width()) {
      const double high = std::min(std::ceil(band_->middle() + width / 2.0), 98.0);
      suggested = fmt::format("{}..{} %", trimmed(std::floor(high - width)), trimmed(high));
    }
    out_.push_back({"", "keep", now, suggested, narrowest});
  }

  /// The room's humidity, were its air at the tub's temperature.
  double room_rh() const {
    const FittedFigure* c = fit_.of(FitOf::room_celsius);
    const FittedFigure* rh = fit_.of(FitOf::room_humidity);
    if (c == nullptr || rh == nullptr) return 50.0;
    return relative_humidity(Celsius{tub_.celsius},
                             humidity_ratio(Celsius{c->value}, Percent{rh->value}))
        .value;
  }

  Litres air() const { return Litres{fit_.model.tub.net_air_l}; }

  const TubFit& fit_;
  const FitAdviceFor& tub_;
  std::optional<Band> band_;
  std::vector<FitAdvice> out_;
};

}  // namespace

std::vector<FitAdvice> advise(const TubFit& fit, const FitAdviceFor& tub) {
  return Adviser(fit, tub).all();
}

}  // namespace tubwarden::rehearsal
