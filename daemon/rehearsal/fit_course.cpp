#include "rehearsal/fit_course.hpp"

#include <algorithm>
#include <cmath>

#include "rehearsal/plant.hpp"

namespace tubwarden::rehearsal {
namespace {

/// The begin is what the readings of so long say.
constexpr double kBeginS = 180.0;
/// The model's own step; it is cut where something moves faster.
constexpr StepPlan kCourseSteps{1.0, 0.5};

/// The middle of a quantity's readings in the first time it has any.
std::optional<double> begin_of(const TubHistory& history, Quantity q) {
  std::vector<double> values;
  double from_s = 0.0;
  for (const HeardReading& r : history.readings) {
    if (r.quantity != q) continue;
    if (values.empty()) from_s = r.at_s;
    if (r.at_s > from_s + kBeginS) break;
    values.push_back(r.value);
  }
  if (values.empty()) return std::nullopt;
  const auto half = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), half, values.end());
  return *half;
}

}  // namespace

FitCourse::FitCourse(const FitOrder& order, const TubHistory& history)
    : order_(order), length_s_(history.length_s) {
  choose(history);
  begin_with(history);
  take_runs(history);
}

double FitCourse::counted_s() const { return length_s_ - kFitStageS; }

void FitCourse::choose(const TubHistory& history) {
  std::size_t late = 0;
  for (const HeardReading& r : history.readings) late += r.at_s >= kFitStageS ? 1 : 0;
  const std::size_t each = (late + kFitReadingsMost - 1) / kFitReadingsMost;
  std::array<std::size_t, kQuantities> met{};
  for (const HeardReading& r : history.readings) {
    if (r.at_s < kFitStageS || r.at_s > length_s_) continue;
    if (met[index_of(r.quantity)]++ % each != 0) continue;
    counted_.push_back(r);
    signs_.read[index_of(r.quantity)] = true;
  }
}

void FitCourse::begin_with(const TubHistory& history) {
  const RoomDay& room = order_.room;
  start_.celsius = begin_of(history, Quantity::air_temperature).value_or(room.mean_c);
  start_.humidity_pct =
      std::clamp(begin_of(history, Quantity::humidity).value_or(room.humidity_pct), 1.0, 100.0);
  start_.co2_ppm = std::max(begin_of(history, Quantity::co2).value_or(room.co2_ppm), 1.0);
  start_.substrate_c = begin_of(history, Quantity::substrate_temperature);
  start_.second_of_day = history.second_of_day;
  signs_.air_celsius = start_.celsius;
}

void FitCourse::take_runs(const TubHistory& history) {
  for (const HeardRun& run : history.runs) {
    if (run.actuator >= order_.chamber.actuators.size() || run.to_s <= run.from_s) continue;
    switched_.push_back({std::max(run.from_s, 0.0), run.actuator, run.level});
    switched_.push_back({run.to_s, run.actuator, kRest});
    const Effect effect = order_.chamber.actuators[run.actuator].effect;
    signs_.misted = signs_.misted || effect == Effect::humidify;
    signs_.aired = signs_.aired || effect == Effect::fresh_air;
  }
  // A run that follows another at once begins behind the other's end.
  std::stable_sort(switched_.begin(), switched_.end(), [](const Switched& a, const Switched& b) {
    return a.at_s != b.at_s ? a.at_s < b.at_s : a.level < b.level;
  });
}

void FitCourse::play(const FitPoint& point, std::span<double> out) const {
  StartAir start = start_;
  if (point.bed_celsius) start.substrate_c = point.bed_celsius;
  ChamberModel model(point.model, point.room, start, kCourseSteps);
  Plant plant(order_.chamber, order_.heats_substrate);
  for (std::size_t i = 0; i < order_.chamber.actuators.size(); ++i) {
    const Effect effect = order_.chamber.actuators[i].effect;
    if (effect == Effect::humidify) plant.strength(i, point.mist);
    if (effect == Effect::fresh_air) plant.strength(i, point.fan);
  }
  double now_s = 0.0;
  const auto go_to = [&](double at_s) {
    if (at_s <= now_s) return;
    model.advance(from_seconds(at_s - now_s));
    now_s = at_s;
  };
  auto next = switched_.begin();
  for (std::size_t i = 0; i < counted_.size(); ++i) {
    for (; next != switched_.end() && next->at_s <= counted_[i].at_s; ++next) {
      go_to(next->at_s);
      plant.set(next->actuator, next->level);
      model.drive(plant.drive());
    }
    go_to(counted_[i].at_s);
    const double shown = model.lagged(counted_[i].quantity);
    const bool damp = counted_[i].quantity == Quantity::humidity;
    out[i] = (damp ? std::min(shown, 100.0) : shown) - counted_[i].value;
  }
}

}  // namespace tubwarden::rehearsal
