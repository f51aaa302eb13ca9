// The model played along a tub's history: its outputs run as they ran, and what the sensors would
// have shown stands beside what they did. Private to rehearsal. Threading: one owner. Failure:
// none; a history is checked before it comes here.
#pragma once

#include <span>
#include <vector>

#include "rehearsal/fit_figures.hpp"

namespace tubwarden::rehearsal {

class FitCourse {
 public:
  FitCourse(const FitOrder& order, const TubHistory& history);

  const FitSigns& signs() const { return signs_; }
  /// The readings that are compared, by time: behind the stage, and every n-th of too many.
  const std::vector<HeardReading>& counted() const { return counted_; }
  double counted_s() const;
  /// What the model shows less what was read, in kept units; `out` is as long as counted().
  void play(const FitPoint& point, std::span<double> out) const;

 private:
  struct Switched {
    double at_s;
    std::size_t actuator;
    Level level;
  };
  void choose(const TubHistory& history);
  void begin_with(const TubHistory& history);
  void take_runs(const TubHistory& history);

  const FitOrder& order_;
  double length_s_;
  std::vector<HeardReading> counted_;
  std::vector<Switched> switched_;  ///< by time
  StartAir start_;
  FitSigns signs_;
};

}  // namespace tubwarden::rehearsal
