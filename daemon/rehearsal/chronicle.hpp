// What a rehearsed grow came to, phase by phase: time in band, how far beyond it, runs, water,
// energy, alerts. Threading: as Observer. Failure: none.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "rehearsal/beds.hpp"
#include "rehearsal/observer.hpp"
#include "rehearsal/statistics.hpp"

namespace tubwarden::rehearsal {

struct QuantityTally {
  Share true_s;                     ///< seconds in its band, of those in which one was kept
  Share sensed;                     ///< readings in it
  std::optional<Band> band;         ///< the last one kept; an edge without an end is infinite
  std::optional<Duration> reached;  ///< the true air first in its band, since the phase began
  double over = 0.0, under = 0.0;   ///< the true air's farthest beyond its band since then
};

struct RunTally {
  int starts = 0;
  double run_s = 0.0;   ///< at full level
  double amount = 0.0;  ///< g of water, m3 of air or kJ, by the effect
};

/// One phase of one tub.
struct PhaseTally {
  std::string phase;
  Duration from{0}, to{0};
  std::array<QuantityTally, kQuantities> quantities;
  std::vector<RunTally> runs;         ///< by actuator, of the air the tub stands in
  double watered_g = 0.0;             ///< by hand
  std::map<std::string, int> alerts;  ///< raised, by cause
  Duration lasted() const { return to - from; }
  bool keeps_any() const;
};

struct TubTally {
  std::string tub;
  bool leads = false;
  std::vector<PhaseTally> phases;
};

class Chronicle final : public Observer {
 public:
  /// What its leader does is judged by the bands that are kept, glides included; another tub by
  /// those of its own phase, as they stand in its profile.
  Chronicle(const WorldPlan& plan, const std::vector<Walk>& walks);

  /// The leader first.
  const std::vector<TubTally>& tubs() const { return tubs_; }
  /// Of a play that came to its end: what was foreseen and never began is left out.
  std::vector<TubTally> tubs_at(Duration end) const;

  void passed(Duration at, double lasted_s, const std::array<double, kQuantities>& truth) override;
  void kept(Duration at, const Bands& bands) override;
  void heard(Duration at, std::size_t sensor, Quantity quantity, double value) override;
  void switched(Duration at, std::size_t actuator, Level level, double rate) override;
  void alerted(Duration at, const AlertChange& change) override;
  void entered(Duration at, const std::string& tub, const std::string& phase) override;
  void watered(Duration at, double grams) override;

 private:
  struct Now {
    std::size_t phase = 0;
    bool begun = false;
    Bands bands;
  };
  struct Output {
    Effect effect;
    Level level = kRest;
    double rate = 0.0;
  };
  PhaseTally* current(std::size_t tub);

  std::vector<TubPlan> plans_;  ///< by tub
  std::vector<TubTally> tubs_;
  std::vector<Now> now_;  ///< by tub
  std::vector<Output> outputs_;
};

}  // namespace tubwarden::rehearsal
