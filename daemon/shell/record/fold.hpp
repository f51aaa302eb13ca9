// Readings into points of a chart: each alone, or those of a width together. Pure.
// Threading: plain values. Failure: past the limit points are left out, and that is told.
#pragma once

#include <cstdint>
#include <map>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/chunk_codec.hpp"

namespace tubwarden {

class Fold {
 public:
  /// Times and width in milliseconds of the wall clock; a width of zero is each alone.
  Fold(std::int64_t from_ms, std::int64_t width_ms, std::size_t limit)
      : from_ms_(from_ms), width_ms_(width_ms), limit_(limit) {}

  /// `ahead_ms`: by how much the wall clock is ahead of the sample's.
  void add(const Sample& sample, std::int64_t ahead_ms);
  /// A bin counts for the width its middle lies in; alone, at its beginning.
  void add(const Bin& bin, std::int64_t ahead_ms);
  bool cut() const { return cut_; }
  /// By time. What was added is gone.
  std::vector<HistoryPoint> take_points();

 private:
  struct Sum {
    std::int64_t low = 0, high = 0, count = 0;
    double total = 0.0;  ///< of hundredths
  };
  void add(std::int64_t wall_ms, std::int64_t low, std::int64_t mean, std::int64_t high,
           std::int64_t count);

  std::int64_t from_ms_, width_ms_;
  std::size_t limit_;
  bool cut_ = false;
  std::vector<HistoryPoint> alone_;
  std::map<std::int64_t, Sum> widths_;
  std::map<std::int64_t, Sum>::iterator last_ = widths_.end();
};

}  // namespace tubwarden
