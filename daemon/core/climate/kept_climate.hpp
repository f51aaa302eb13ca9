// The climate that a phase kept, summed up as it goes: for each quantity the time it was known, the
// time inside its band, mean and extremes; and for how long each output ran. Sums only, so that it
// costs the same on the last day as on the first. Threading: plain values. Failure: none; time
// without a usable reading is counted nowhere.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/climate/hysteresis.hpp"

namespace tubwarden {

/// Of one quantity. Every mean is by time.
struct QuantityKept {
  double live_s = 0.0;    ///< with a usable reading
  double banded_s = 0.0;  ///< ... while it was kept in a band
  double inside_s = 0.0;  ///< ... and was inside, edges included, wherever the glide had them
  double mean = 0.0;      ///< of live_s, in the quantity's kept unit; likewise:
  double least = 0.0, most = 0.0;
  bool at_least = false;  ///< the sensor stood at the top of its range: mean and most are at least

  /// The value held for `lasted`. A half of the band that is not obeyed bounds nothing.
  void add(double value, bool top_of_range, const std::optional<KeptBand>& kept, Duration lasted);
  bool operator==(const QuantityKept&) const = default;
};

/// Of one output: its time above rest, a part of full power as that part.
struct OutputKept {
  std::string id;
  double run_s = 0.0;
  bool operator==(const OutputKept&) const = default;
};

inline constexpr std::size_t kOutputsKeptMax = 64;  ///< beyond: not counted

struct KeptSums {
  std::array<QuantityKept, kQuantities> quantities{};  ///< by index_of(Quantity)
  std::vector<OutputKept> outputs;                     ///< those that ran

  const QuantityKept& of(Quantity q) const { return quantities[index_of(q)]; }
  QuantityKept& of(Quantity q) { return quantities[index_of(q)]; }
  void ran(const std::string& output, double run_s);
  /// As if the one had gone on where the other ended.
  void join(const KeptSums& other);
  bool operator==(const KeptSums&) const = default;
};

/// "humidity 91.2 % (84 to 97.1), in its band for 93 % of the time; CO2 ..." of what was known;
/// "no reading was usable" without any.
std::string told(const KeptSums& kept);

}  // namespace tubwarden
