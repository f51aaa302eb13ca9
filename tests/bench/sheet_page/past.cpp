// Fills a record's folder with days of readings and runs that lie before now, as a tub would have
// left them. bench_sheet_past FOLDER DAYS CHAMBER...: four quantities of each air, a minute apart.
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <numbers>
#include <random>

#include "shell/record/readings_file.hpp"

namespace {

using namespace tubwarden;

constexpr std::int64_t kEachMs = 60'000;
constexpr std::int64_t kDayMs = 86'400'000;
constexpr std::int64_t kGroupMs = 3'600'000;

/// One air: mist lifts it, a fan clears it, the room's day shows in its temperature.
class PastAir {
 public:
  PastAir(std::string name, std::uint64_t seed) : name_(std::move(name)), dice_(seed) {}

  void minute(RecordGroup& group, std::int64_t boot_ms, std::int64_t ahead_ms) {
    std::normal_distribution<double> noise(0.0, 1.0);
    const double day = static_cast<double>(boot_ms % kDayMs) / static_cast<double>(kDayMs);
    const double sun = std::sin(2.0 * std::numbers::pi * day);
    if (humidity_ < 86.2) run(group, "mister", 2, boot_ms, ahead_ms), humidity_ += 3.4;
    if (co2_ > 855.0) run(group, "fan", 25, boot_ms, ahead_ms), co2_ -= 150.0, humidity_ -= 0.9;
    if (bed_ < 16.6) run(group, "mat", 50, boot_ms, ahead_ms), bed_ += 0.06;
    humidity_ -= 0.11 + 0.05 * sun;
    co2_ += 9.0 + 2.0 * noise(dice_);
    bed_ += 0.004 * (16.4 + 0.9 * sun - bed_) + 0.002;
    const auto read = [&](const char* sensor, Quantity quantity, double value, double step) {
      group.readings.push_back({name_, sensor, quantity, std::round(value / step) * step,
                                WallTime(milliseconds(boot_ms + ahead_ms)), true,
                                Instant(milliseconds(boot_ms))});
    };
    read("air", Quantity::humidity, humidity_ + 0.3 * noise(dice_), 0.1);
    read("air", Quantity::air_temperature, 16.6 + 0.8 * sun + 0.04 * noise(dice_), 0.01);
    read("air", Quantity::co2, co2_, 1.0);
    read("bed", Quantity::substrate_temperature, bed_, 0.01);
  }

 private:
  void run(RecordGroup& group, const char* id, int lasts_s, std::int64_t boot_ms,
           std::int64_t ahead_ms) {
    Stamp began;
    began.wall = WallTime(milliseconds(boot_ms + ahead_ms));
    began.wall_set = true;
    began.boot = Instant(milliseconds(boot_ms));
    group.runs.push_back({name_, id, kRun, began, seconds(lasts_s)});
  }

  std::string name_;
  std::mt19937_64 dice_;
  double humidity_ = 87.0, co2_ = 700.0, bed_ = 17.2;
};

}  // namespace

int main(int argc, char** argv) {
  if (argc < 4) return 2;
  const std::int64_t length_ms = std::atoll(argv[2]) * kDayMs;
  const std::int64_t now_ms =
      std::chrono::duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch())
          .count();
  const std::int64_t ahead_ms = now_ms - length_ms - kEachMs;
  ReadingsFile file((std::filesystem::path(argv[1]) / "readings.db").string(), "an earlier boot",
                    RecordKeep{});
  std::vector<PastAir> airs;
  for (int i = 3; i < argc; ++i) airs.emplace_back(argv[i], 20261126U + static_cast<unsigned>(i));
  for (std::int64_t at = 0; at < length_ms; at += kGroupMs) {
    RecordGroup group;
    for (std::int64_t minute = at; minute < at + kGroupMs; minute += kEachMs) {
      for (PastAir& air : airs) air.minute(group, minute, ahead_ms);
    }
    file.take(group);
    file.commit();
    file.tidy();
  }
  return 0;
}
