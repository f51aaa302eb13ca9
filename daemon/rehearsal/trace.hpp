// A rehearsed air as a chart shows it: the least and most of each quantity, true and as sensed, in
// equal columns of time, the band behind it, what the outputs ran, and what happened when.
// Threading: as Observer. Failure: none; more than kEventsMax of a kind are counted only.
#pragma once

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "rehearsal/observer.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

/// Least and most within a column; empty while least > most.
struct Extent {
  float least = std::numeric_limits<float>::infinity();
  float most = -std::numeric_limits<float>::infinity();
  bool empty() const { return least > most; }
  void take(double value) {
    least = std::min(least, static_cast<float>(value));
    most = std::max(most, static_cast<float>(value));
  }
};

struct TracedQuantity {
  std::vector<Extent> truth, sensed;  ///< by column
};

/// From this column on this is kept; nothing: none.
struct TracedBand {
  std::size_t column = 0;
  std::optional<Band> band;
  bool operator==(const TracedBand&) const = default;
};

struct TracedAlert {
  Duration at{0};
  std::string place, cause, text;
  std::optional<Duration> returned;
};

class Trace final : public Observer {
 public:
  static constexpr std::size_t kEventsMax = 2000;

  Trace(const WorldPlan& plan, Duration length, std::size_t columns);

  std::size_t columns() const { return columns_; }
  const TracedQuantity& of(Quantity q) const { return quantities_[index_of(q)]; }
  const std::vector<TracedBand>& bands(Quantity q) const { return bands_[index_of(q)]; }
  /// Seconds at full level, by actuator, then column.
  const std::vector<std::vector<float>>& runs() const { return runs_; }
  const std::vector<TracedAlert>& alerts() const { return alerts_; }
  std::size_t alerts_untold() const { return alerts_untold_; }
  double column_s() const { return column_s_; }

  void passed(Duration at, double lasted_s, const std::array<double, kQuantities>& truth) override;
  void kept(Duration at, const Bands& bands) override;
  void heard(Duration at, std::size_t sensor, Quantity quantity, double value) override;
  void switched(Duration at, std::size_t actuator, Level level, double rate) override;
  void alerted(Duration at, const AlertChange& change) override;
  void entered(Duration, const std::string&, const std::string&) override {}
  void watered(Duration, double) override {}

 private:
  std::size_t column(Duration at) const;

  std::size_t columns_;
  double column_s_;
  std::array<TracedQuantity, kQuantities> quantities_;
  std::array<std::vector<TracedBand>, kQuantities> bands_;
  std::vector<std::vector<float>> runs_;
  std::vector<Level> levels_;
  std::vector<TracedAlert> alerts_;
  std::size_t alerts_untold_ = 0;
};

}  // namespace tubwarden::rehearsal
