// Where an air's humidity or CO2 truly is behind a sensor that lags, where it drifts, and where it
// will be: one well mixed zone with exchange, a pending input and a first-order sensor, followed by
// a Kalman filter of value, shown value, drift, of what
// an input really moves of its nominal figure, and of the sensor's lag. Threading: one owner,
// plain values. Failure: none; before the first reading it knows nothing and says so.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "base/time.hpp"

namespace tubwarden {

/// What acts on the value from now on, in its unit.
struct AirDrive {
  double input_per_s = 0.0;     ///< goes into the air by and by, see ForecastTraits::release_s
  double exchange_per_s = 0.0;  ///< share of the air exchanged
  double outside = 0.0;         ///< the value that the exchanged air would have inside
};

struct ForecastTraits {
  double lag_s = 8.0;      ///< of the sensor, to 63 % of a step; above 0
  double dead_s = 0.0;     ///< of the sensor and its way here
  double release_s = 8.0;  ///< in which 63 % of an input has become the value; 0: at once
  /// What an input adds for a while on top of itself: mist cools the air it evaporates in, and the
  /// cooler air is the nearer to saturation until the walls have warmed it again.
  double swing = 0.0;           ///< share of the input
  double swing_s = 17.0;        ///< in which 63 % of it has gone; above 0
  double noise = 0.2;           ///< standard deviation of a reading
  double drift_walk = 0.01;     ///< how the drift wanders: its deviation after 1 s, unit/s
  double still_walk = 0.05;     ///< what the model leaves out in 1 s, nothing running
  double exchange_error = 0.3;  ///< share of what an exchange moves that is not known
  double input_error = 0.3;     ///< share of an input's effect that is not known
  double share_error = 0.3;     ///< what is not known of the input's share at first
  double lag_error = 0.4;       ///< ... of the logarithm of the lag
  double share_least = 0.2;     ///< share and lag are learned within these bounds, of the prior
  double share_most = 5.0;
  double value_most = 1e9;  ///< the value is never above it, nor below 0
  double drift_most = 1.0;  ///< unit/s either way; more is no drift
};

class AirForecast {
 public:
  explicit AirForecast(const ForecastTraits& traits) : traits_(traits) {}

  void traits(const ForecastTraits& traits) { traits_ = traits; }
  const ForecastTraits& traits() const { return traits_; }
  /// Nothing is known any more, not even the drift.
  void forget();

  /// Lets time pass under the drive as it stood until now.
  void advance(const AirDrive& drive, Instant now);
  /// A reading that arrives now. `clean`: nothing that the drive does not tell of acts, so that the
  /// input's share and the lag may be learned from it, besides where the air stands.
  void reading(double value, Instant now, bool clean);

  bool known() const { return known_; }
  /// The true value now, as far as the readings tell; only when known().
  double value() const { return value_; }
  /// unit/s, without exchange and input.
  double drift() const { return drift_; }
  /// Of input not yet in the air: what it will still add.
  double pending() const { return input_share_ * pending_; }
  /// What an input moves, of what its nominal figure says.
  double input_share() const { return input_share_; }
  double lag_s() const { return lag_s_; }
  /// What is known of the two from before: from a record, or instead of what a doubt made of them.
  /// Kept within the bounds; the errors are standard errors, of the lag's logarithm.
  struct Learned {
    double share = 1.0, share_error = 0.3;
    double lag_s = 8.0, lag_error = 0.4;
  };
  Learned learned() const;
  void learned(const Learned& known);
  /// The standard error of value().
  double error() const;

  /// The value `ahead` from now under one drive that begins now and, after `holds`, gives way to
  /// another. `ahead` not negative.
  double ahead(Duration ahead, const AirDrive& drive, Duration holds,
               const AirDrive& then = {}) const;
  /// What one nominal unit of input given now at once has added to the value `ahead` from now.
  double response(Duration ahead) const;

 private:
  void begin(double value, Instant now);
  /// `v` after `s` of drift and one drive.
  double exchanged(double v, const AirDrive& drive, double s) const;
  void step(const AirDrive& drive, double s);
  /// The swing that one unit of pending input makes `s` from now.
  double swing_of_pending(double s) const;

  ForecastTraits traits_;
  bool known_ = false;
  Instant told_{}, heard_{};
  double value_ = 0.0;
  double shown_ = 0.0;
  double drift_ = 0.0;
  double input_share_ = 1.0;
  double lag_s_ = traits_.lag_s;
  double pending_ = 0.0;  ///< nominal, as is the swing
  double swing_ = 0.0;
  /// Covariance of value, shown value, drift, input's share, log of the lag.
  static constexpr std::size_t kStates = 5;
  std::array<std::array<double, kStates>, kStates> p_{};
  /// What was shown in the last seconds, one a second, for readings that come late.
  static constexpr std::size_t kPast = 64;
  std::array<double, kPast> past_{};
  std::size_t past_count_ = 0;
  double past_s_ = 0.0;  ///< time since the newest of them
};

}  // namespace tubwarden
