// Seeded randomness that is the same on every machine: a failing seed replays anywhere.
// splitmix64 (Steele, Lea, Flood 2014; constants from memory) and Box-Muller, because the standard
// library's distributions differ between implementations. Threading: one owner. Failure: none.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>

namespace tubwarden::rehearsal {

class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed) {}

  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ULL);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  }
  /// Uniform in [0, 1).
  double unit() { return static_cast<double>(next() >> 11) * 0x1.0p-53; }
  /// Uniform in [low, high).
  double between(double low, double high) { return low + (high - low) * unit(); }
  /// Uniform in low..high, both ends included; low <= high.
  int whole(int low, int high) {
    return low + static_cast<int>(next() % (static_cast<std::uint64_t>(high - low) + 1));
  }
  bool chance(double probability) { return unit() < probability; }
  /// Normally distributed, mean 0, standard deviation 1.
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - unit()));
    return radius * std::cos(2.0 * std::numbers::pi * unit());
  }

 private:
  std::uint64_t state_;
};

}  // namespace tubwarden::rehearsal
