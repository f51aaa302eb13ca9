// Readings and their five-minute means in few bytes: what one series said for a while, as one blob.
// Times and values are told by their differences, in Rice codes fitted to each blob; a checksum
// covers all. Pure: no file, no clock.
// Threading: plain values. Failure: a blob that is not as it was packed is an error, never less or
// other readings.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace tubwarden {

/// A reading of one series: milliseconds on a clock, and hundredths of its unit.
struct Sample {
  std::int64_t at_ms = 0;
  std::int64_t hundredths = 0;
  bool operator==(const Sample&) const = default;
};

/// A sensor of an air says no more than this, either way; means are of such values.
inline constexpr std::int64_t kHundredthsMax = 1'000'000'000'000;
/// No blob holds more.
inline constexpr std::size_t kPackedMax = 4096;

/// Of samples in order of time: two of one time are one, the last of them.
void keep_last_of_equal(std::vector<Sample>& samples);

/// At least one sample, at most kPackedMax, each later than the one before.
std::string pack_samples(std::span<const Sample> samples);
/// `first_ms` is the time of the first, which is kept beside the blob.
Result<std::vector<Sample>> unpack_samples(std::int64_t first_ms, std::string_view blob);

/// What one series said within one five minutes of the clock.
struct Bin {
  std::int64_t index = 0;                    ///< five-minute steps since the clock's zero
  std::int64_t low = 0, mean = 0, high = 0;  ///< in hundredths; the mean rounded
  std::int64_t count = 0;
  bool operator==(const Bin&) const = default;
};
inline constexpr std::int64_t kBinMs = 300'000;

/// Rounded towards the past, also before the clock's zero.
constexpr std::int64_t bin_of(std::int64_t at_ms) {
  return at_ms / kBinMs - (at_ms % kBinMs < 0 ? 1 : 0);
}

/// The bins of samples in order of time, in order.
std::vector<Bin> bins_of(std::span<const Sample> samples);
/// At least one bin, at most kPackedMax, each later than the one before.
std::string pack_bins(std::span<const Bin> bins);
/// `first_ms` is a time within the first bin, which is kept beside the blob.
Result<std::vector<Bin>> unpack_bins(std::int64_t first_ms, std::string_view blob);

}  // namespace tubwarden
