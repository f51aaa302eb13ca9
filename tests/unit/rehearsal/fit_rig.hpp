// A tub with drawn figures played by the world, and its history as a record would have it.
// Threading: the test's. Failure: none.
#pragma once

#include <cmath>
#include <memory>

#include "rehearsal/dice.hpp"
#include "rehearsal/tub_fit.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal::fit_test {

/// Readings and runs as they happen.
class Keeper : public Observer {
 public:
  TubHistory history;

  void passed(Duration, double, const std::array<double, kQuantities>&) override {}
  void kept(Duration, const Bands&) override {}
  void heard(Duration at, std::size_t, Quantity quantity, double value) override {
    history.readings.push_back({seconds_of(at), quantity, value});
  }
  void switched(Duration at, std::size_t actuator, Level level, double) override {
    open_.resize(std::max(open_.size(), actuator + 1));
    HeardRun& run = open_[actuator];
    if (run.level != kRest) {
      run.to_s = seconds_of(at);
      history.runs.push_back(run);
    }
    run = {actuator, level, seconds_of(at), 0.0};
  }
  void alerted(Duration, const AlertChange&) override {}
  void entered(Duration, const std::string&, const std::string&) override {}
  void watered(Duration, double) override {}

 private:
  std::vector<HeardRun> open_{};
};

struct Truth {
  double leak_per_h = 3.0, mist_g_h = 40.0, fan_m3_h = 2.0;
  double dead_s = 2.0, humidity_lag_s = 8.0, temperature_lag_s = 10.0, co2_lag_s = 60.0;
  double droplet_life_s = 1.0, evaporation = 4.0, co2_g_h = 0.225, wall_loss_w_k = 0.0;
  Load load = Load::pinning;
};

/// The ranges are those of tests/bench/climate/ranges.yaml, which names their sources; the walls'
/// loss +-40 %, assumed.
inline Truth drawn(Load load, std::uint64_t seed) {
  Dice dice(seed);
  const auto log = [&](double low, double high) {
    return std::exp(dice.between(std::log(low), std::log(high)));
  };
  const ModelParameters usual = parameters_of(load, 40.0, 5.0);
  Truth t;
  t.load = load;
  t.leak_per_h = log(1.0, 6.0);
  t.mist_g_h = 40.0 * dice.between(0.6, 1.4);
  t.fan_m3_h = 2.0 * dice.between(0.6, 1.4);
  t.dead_s = dice.between(1.0, 5.0);
  t.humidity_lag_s = log(5.0, 20.0);
  t.temperature_lag_s = log(5.0, 30.0);
  t.co2_lag_s = log(20.0, 90.0);
  t.droplet_life_s = log(0.5, 2.0);
  t.evaporation = 4.0 * dice.between(0.6, 1.4);
  t.co2_g_h = dice.between(0.5, 1.5);
  t.co2_g_h *= usual.crop.substrate_kg * usual.crop.substrate_co2_g_kgh +
               usual.crop.mushrooms_kg * usual.crop.mushrooms_co2_g_kgh;
  t.wall_loss_w_k = usual.tub.wall_outside_w_m2k * usual.tub.wall_m2 * dice.between(0.6, 1.4);
  return t;
}

/// The controller and the fit are told nominal figures: 40 L, 40 g/h, 2 m3/h, a room of 20 C, 50 %.
WorldPlan world_of(const Truth& truth, std::uint64_t seed, Duration reading_each = seconds(5));
FitOrder order_of(const WorldPlan& plan, Load load);
TubHistory history_of(const WorldPlan& plan, Duration length);
/// What is true of a figure; nothing where none was drawn.
std::optional<double> true_of(const Truth& truth, FitOf of);

}  // namespace tubwarden::rehearsal::fit_test
