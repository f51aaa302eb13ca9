#include "bench/history/tubs.hpp"

#include <cmath>
#include <numbers>

namespace bench {

using namespace tubwarden;

namespace {

constexpr std::int64_t kEachMs = 10'000;
constexpr std::int64_t kWallAheadMs = 1'800'000'000'000;

double in_steps(double value, double step) { return std::round(value / step) * step; }

}  // namespace

Tub::Tub(int number) : name_("tub-" + std::to_string(number)), dice_(20261125U + number) {}

std::array<ReadingRow, 3> Tub::next() {
  std::normal_distribution<double> noise(0.0, 1.0);
  std::uniform_int_distribution<std::int64_t> late(-20, 20);
  due_ms_ += kEachMs;
  const std::int64_t at = due_ms_ + late(dice_);
  humidity_ += humidity_ < 86.25 ? 1.25 : -0.02;
  co2_ = co2_ > 855.0 ? 710.0 : co2_ + 1.5;
  const double day = static_cast<double>(at % kDayMs) / static_cast<double>(kDayMs);
  const double temperature = 17.0 + std::sin(2.0 * std::numbers::pi * day);
  const auto row = [&](Quantity quantity, double value) {
    return ReadingRow{name_,
                      "air",
                      quantity,
                      value,
                      WallTime(milliseconds(kWallAheadMs + at)),
                      true,
                      Instant(milliseconds(at))};
  };
  return {row(Quantity::humidity, in_steps(humidity_ + 0.08 * noise(dice_), 0.01)),
          row(Quantity::air_temperature, in_steps(temperature + 0.02 * noise(dice_), 0.01)),
          row(Quantity::co2, in_steps(co2_ + 5.0 * noise(dice_), 1.0))};
}

}  // namespace bench
