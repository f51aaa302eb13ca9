#include "shell/record/fold.hpp"

#include <algorithm>
#include <limits>

namespace tubwarden {
namespace {

constexpr double kUnitsPerStep = 0.01;

std::uint32_t count_of(std::int64_t count) {
  return static_cast<std::uint32_t>(
      std::clamp<std::int64_t>(count, 0, std::numeric_limits<std::uint32_t>::max()));
}

HistoryPoint point(std::int64_t wall_ms, double low, double mean, double high, std::int64_t count) {
  return {WallTime(milliseconds(wall_ms)), low * kUnitsPerStep, mean * kUnitsPerStep,
          high * kUnitsPerStep, count_of(count)};
}

}  // namespace

void Fold::add(const Sample& sample, std::int64_t ahead_ms) {
  const std::int64_t v = sample.hundredths;
  add(sample.at_ms + ahead_ms, v, v, v, 1);
}

void Fold::add(const Bin& bin, std::int64_t ahead_ms) {
  const std::int64_t begins = bin.index * kBinMs + ahead_ms;
  const std::int64_t at = width_ms_ > 0 ? begins + kBinMs / 2 : std::max(begins, from_ms_);
  add(at, bin.low, bin.mean, bin.high, bin.count);
}

void Fold::add(std::int64_t wall_ms, std::int64_t low, std::int64_t mean, std::int64_t high,
               std::int64_t count) {
  if (width_ms_ <= 0) {
    cut_ = cut_ || alone_.size() >= limit_;
    if (!cut_) {
      alone_.push_back(point(wall_ms, static_cast<double>(low), static_cast<double>(mean),
                             static_cast<double>(high), count));
    }
    return;
  }
  const std::int64_t index = (wall_ms - from_ms_) / width_ms_;
  if (last_ == widths_.end() || last_->first != index) {
    last_ = widths_.find(index);
    if (last_ == widths_.end()) {
      cut_ = cut_ || widths_.size() >= limit_;
      if (cut_) return;
      last_ = widths_.emplace(index, Sum{low, high, 0, 0.0}).first;
    }
  }
  Sum& sum = last_->second;
  sum.low = std::min(sum.low, low);
  sum.high = std::max(sum.high, high);
  sum.total += static_cast<double>(mean) * static_cast<double>(count);
  sum.count += count;
}

std::vector<HistoryPoint> Fold::take_points() {
  for (const auto& [index, sum] : widths_) {
    alone_.push_back(point(from_ms_ + index * width_ms_, static_cast<double>(sum.low),
                           sum.total / static_cast<double>(sum.count),
                           static_cast<double>(sum.high), sum.count));
  }
  widths_.clear();
  last_ = widths_.end();
  const auto earlier = [](const HistoryPoint& a, const HistoryPoint& b) { return a.at < b.at; };
  if (!std::is_sorted(alone_.begin(), alone_.end(), earlier)) {
    std::stable_sort(alone_.begin(), alone_.end(), earlier);
  }
  return std::move(alone_);
}

}  // namespace tubwarden
