// What the outputs really do to one quantity: how much of each one's nominal effect shows in the
// readings' quick changes. By this an empty tank or a dead fan is told from an air that is merely
// held where it stands. Readings and nominal effects go through the same high pass, twice, so that
// neither the air's own drift nor a control that answers it counts; then least squares with
// forgetting. A steady run is no evidence, its begin and end are. Threading: one owner, plain
// values. Failure: none; what cannot be told is nothing.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

struct EffectTraits {
  double quantum = 1.0;    ///< the smallest change the sensor tells; above 0
  double lag_s = 10.0;     ///< of the sensor, to 63 % of a step; above 0
  double fades_s = 600;    ///< in which 63 % of an effect is lost to walls and leaks; above 0
  Duration apart{0};       ///< readings nearer than this to the last are passed over
  double quick_s = 90;     ///< changes slower than this do not count; above 0
  double memory_s = 1200;  ///< after which a reading counts for 37 %; above 0
};

class EffectFit {
 public:
  /// Outputs that one quantity is watched for; those beyond are not.
  static constexpr std::size_t kOutputs = 4;
  /// Evidence is movement of three quanta that nothing else explains.
  static constexpr double kQuanta = 3.0;
  /// ... and of so many before it is told that nothing came of them: what else moves an air (a
  /// casing that gives its water back) is not in the fit.
  static constexpr double kMuch = 6.0;
  /// Less than this of the nominal effect is nothing; a worn mister gives more (common practice,
  /// no source).
  static constexpr double kNothing = 0.15;

  explicit EffectFit(const EffectTraits& traits) : traits_(traits) {}
  void traits(const EffectTraits& traits) { traits_ = traits; }

  /// Time passes in which output `i` would nominally have moved the quantity by `moved[i]`, signed,
  /// and of whose effect no more than `most[i]` can stand in the air: a fan brings an air to the
  /// room's and no further.
  void ran(const std::array<double, kOutputs>& moved, const std::array<double, kOutputs>& most,
           Duration passed);
  void reading(double value, Instant now);
  /// Something nobody counts moves the air: all evidence is forgotten.
  void forget();

  /// What of an output's nominal effect shows, with two standard errors either way; nothing where
  /// the readings cannot tell.
  struct Share {
    double value = 0.0, error = 0.0;
    double moves = 0.0;  ///< how far its runs should have moved the readings up and down
    double quantum = 1.0;
    /// Of much that should have come, less than a dead one's share, by three standard errors.
    bool nothing() const { return moves >= kMuch * quantum && value + 3.0 * error < kNothing; }
    /// So little by what is there, however much should have come.
    bool hardly() const { return value + 2.0 * error < kNothing; }
    bool something() const { return value - 2.0 * error > kNothing; }
  };
  std::optional<Share> share(std::size_t output) const;

 private:
  /// Outputs, and last the reading.
  static constexpr std::size_t kN = kOutputs + 1;
  using Row = std::array<double, kN>;

  EffectTraits traits_;
  std::array<double, kOutputs> in_air_{};  ///< of what was given, what has not faded
  std::array<double, kOutputs> shown_{};   ///< ... as a sensor that lags would show it
  std::optional<Instant> first_, last_;
  double weight_ = 0.0;
  double readings_ = 0.0;
  Row slow_{}, slower_{};  ///< what the two high passes take away
  std::array<Row, kN> moments_{};
};

}  // namespace tubwarden
