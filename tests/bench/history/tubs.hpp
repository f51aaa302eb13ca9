// Readings as four tubs give them: humidity, temperature and CO2, each ten seconds, for 60 days.
// Threading: plain values. Failure: none.
#pragma once

#include <array>
#include <cstdint>
#include <random>

#include "ports/record.hpp"

namespace bench {

inline constexpr int kTubs = 4;
inline constexpr std::int64_t kDayMs = 24 * 3'600'000;
inline constexpr std::int64_t kDays = 60;

/// One tub's air and its sensor. Humidity goes up by a portion of mist and falls again, the
/// temperature follows the day, CO2 rises until the fan runs. The noise is of a usual sensor's
/// size (0.08 % RH, 0.02 C, 5 ppm as one standard deviation; common practice, no source), told in
/// steps of 0.01 % RH, 0.01 C and 1 ppm.
class Tub {
 public:
  explicit Tub(int number);
  /// What the sensor says when it speaks next, and when: each 10 s, and up to 20 ms early or late.
  std::array<tubwarden::ReadingRow, 3> next();

 private:
  std::string name_;
  std::mt19937_64 dice_;
  std::int64_t due_ms_ = 0;
  double humidity_ = 88.0, co2_ = 800.0;
};

}  // namespace bench
