#include "shell/warden/forecast_past.hpp"

#include <algorithm>
#include <memory>
#include <optional>
#include <set>

namespace tubwarden {
namespace {

constexpr milliseconds kHour = hours(1);
/// A mean of an hour speaks for so long, when the next is missing.
constexpr milliseconds kSpeaksFor = hours(3);
/// Substrate that works is 1 to 3 C above its air (common practice, no source).
constexpr double kBedAboveAirC = 1.5;

/// The mean of a chamber's sensors by the hour, and nothing from where they fell silent.
std::vector<TemperatureStep> hourly(const History& history, Quantity q, double plus_c) {
  std::map<WallTime, std::pair<double, int>> hour;
  for (const HistorySeries& series : history.series) {
    if (series.quantity != q) continue;
    for (const HistoryPoint& point : series.points) {
      auto& [sum, count] = hour[point.at];
      sum += point.mean;
      ++count;
    }
  }
  std::vector<TemperatureStep> steps;
  std::optional<WallTime> last;
  for (const auto& [at, mean] : hour) {
    if (last && at - *last > kSpeaksFor) steps.push_back({*last + kSpeaksFor, std::nullopt});
    steps.push_back({at, Celsius{mean.first / mean.second + plus_c}});
    last = at;
  }
  if (last) steps.push_back({*last + kSpeaksFor, std::nullopt});
  return steps;
}

/// Puts what holds in [from, to) behind `out`; from `to` on nothing is known.
void append_piece(const std::vector<TemperatureStep>& steps, WallTime from, WallTime to,
                  std::vector<TemperatureStep>& out) {
  const auto after = std::ranges::upper_bound(steps, from, {}, &TemperatureStep::from);
  out.push_back({from, after == steps.begin() ? std::nullopt : (after - 1)->t});
  for (auto step = after; step != steps.end() && step->from < to; ++step) out.push_back(*step);
  out.push_back({to, std::nullopt});
}

}  // namespace

PastWarmth::Steps PastWarmth::air_of(const std::string& chamber) const {
  const auto found = histories_.find(chamber);
  return found == histories_.end() ? Steps{}
                                   : hourly(found->second, Quantity::air_temperature, 0.0);
}

PastWarmth::Steps PastWarmth::bed_of(const std::string& chamber) const {
  const auto found = histories_.find(chamber);
  if (found == histories_.end()) return {};
  Steps steps = hourly(found->second, Quantity::substrate_temperature, 0.0);
  return steps.empty() ? hourly(found->second, Quantity::air_temperature, kBedAboveAirC) : steps;
}

std::vector<TemperatureStep> PastWarmth::joined(const std::vector<StoodOn>& stays,
                                                Steps (PastWarmth::*of)(const std::string& chamber)
                                                    const) const {
  std::vector<TemperatureStep> out;
  for (const StoodOn& stay : stays) {
    const auto rows = placements_.find(stay.tub);
    if (rows == placements_.end()) continue;
    for (const PlacementRow& row : rows->second) {
      if (!row.from.wall_set || (row.to && !row.to->wall_set)) continue;
      const WallTime from = std::max(stay.from, row.from.wall);
      const WallTime to = row.to ? std::min(stay.to, row.to->wall) : stay.to;
      if (from < to) append_piece((this->*of)(row.chamber), from, to, out);
    }
  }
  std::ranges::stable_sort(out, {}, &TemperatureStep::from);
  return out;
}

std::vector<TemperatureStep> PastWarmth::air(const std::vector<StoodOn>& stays) const {
  return joined(stays, &PastWarmth::air_of);
}
std::vector<TemperatureStep> PastWarmth::bed(const std::vector<StoodOn>& stays) const {
  return joined(stays, &PastWarmth::bed_of);
}

/// The questions to the record, one after the other.
class PastAsked : public std::enable_shared_from_this<PastAsked> {
 public:
  PastAsked(Warden::State& s, std::vector<StoodOn> stays,
            std::function<void(Result<PastWarmth>)> done)
      : s_(s), stays_(std::move(stays)), done_(std::move(done)) {
    for (const StoodOn& stay : stays_) tubs_.insert(stay.tub);
  }

  void next() {
    if (!tubs_.empty()) return ask_tub();
    if (!chambers_.empty()) return ask_chamber();
    done_(std::move(found_));
  }

 private:
  void ask_tub() {
    const std::string tub = *tubs_.begin();
    tubs_.erase(tubs_.begin());
    s_.parts.record.placements(tub, [self = shared_from_this(), tub](auto rows) {
      if (!rows.ok()) return self->done_(rows.error());
      for (const PlacementRow& row : *rows) self->widen(tub, row);
      self->found_.placements_[tub] = std::move(*rows);
      self->next();
    });
  }

  /// The time for which a chamber's history is asked grows by what this placement needs.
  void widen(const std::string& tub, const PlacementRow& row) {
    if (!row.from.wall_set || (row.to && !row.to->wall_set)) return;
    for (const StoodOn& stay : stays_) {
      if (stay.tub != tub) continue;
      const WallTime from = std::max(stay.from, row.from.wall);
      const WallTime to = row.to ? std::min(stay.to, row.to->wall) : stay.to;
      if (from >= to) continue;
      const auto [span, fresh] = chambers_.try_emplace(row.chamber, from, to);
      if (fresh) continue;
      span->second.first = std::min(span->second.first, from);
      span->second.second = std::max(span->second.second, to);
    }
  }

  void ask_chamber() {
    const auto [chamber, span] = *chambers_.begin();
    chambers_.erase(chambers_.begin());
    ask_quantity(chamber, span, Quantity::air_temperature);
  }

  void ask_quantity(const std::string& chamber, std::pair<WallTime, WallTime> span, Quantity q) {
    HistoryAsk ask{chamber, q, span.first, span.second, kHour};
    s_.parts.record.history(ask, [self = shared_from_this(), chamber, span, q](auto history) {
      if (!history.ok()) return self->done_(history.error());
      auto& series = self->found_.histories_[chamber].series;
      series.insert(series.end(), history->series.begin(), history->series.end());
      if (q == Quantity::air_temperature) {
        return self->ask_quantity(chamber, span, Quantity::substrate_temperature);
      }
      self->next();
    });
  }

  Warden::State& s_;
  std::vector<StoodOn> stays_;
  std::function<void(Result<PastWarmth>)> done_;
  std::set<std::string> tubs_;
  std::map<std::string, std::pair<WallTime, WallTime>> chambers_;
  PastWarmth found_;
};

void gather_warmth(Warden::State& s, std::vector<StoodOn> stays,
                   std::function<void(Result<PastWarmth>)> done) {
  std::make_shared<PastAsked>(s, std::move(stays), std::move(done))->next();
}

}  // namespace tubwarden
