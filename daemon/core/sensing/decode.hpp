// A payload as numbers: a bare number or JSON, by the sensor's plan, in kept units.
// Threading: pure functions; RefusalCounts has one owner. Failure: nothing throws; what is not a
// reading is refused with its reason, and counted by who keeps RefusalCounts.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/sensing/sensor_plan.hpp"

namespace tubwarden {

inline constexpr std::size_t kReadingBytesMax = 8 * 1024;
inline constexpr std::size_t kReadingDepthMax = 16;
/// A stamp further ahead than this is not believed.
inline constexpr Duration kStampAheadMax = seconds(5);
/// A CO2 sensor at its top means "at least"; a little above it is its calibration, far above it is
/// an error code (65535 and the like) and out of range.
inline constexpr double kTopSlack = 1.05;

enum class Refusal : std::uint8_t {
  too_long,      ///< the payload is over kReadingBytesMax
  too_deep,      ///< JSON nested deeper than kReadingDepthMax
  not_json,      ///< neither a number nor JSON
  not_a_number,  ///< the member is there and is no finite number
  out_of_range,  ///< a number outside the sensor's range
};
inline constexpr std::size_t kRefusals = 5;
std::string_view name_of(Refusal refusal);

struct DecodedQuantity {
  enum class State : std::uint8_t {
    absent,  ///< not planned, or its member is missing: no reading, no error
    taken,
    refused,
  };
  State state = State::absent;
  bool at_least = false;  ///< CO2 at the top of its range
  double value = 0.0;     ///< kept unit; when taken
  Refusal why{};          ///< when refused
};

struct Decoded {
  /// By index_of(Quantity).
  std::array<DecodedQuantity, kQuantities> quantities{};
  /// How old the reading was when it arrived, by its own stamp; zero where arrival counts.
  Duration age{0};
  /// A stamp was there and could not be used: unreadable, or too far ahead.
  bool stamp_refused = false;
  /// The document as a whole was refused; then every planned quantity is refused for this.
  std::optional<Refusal> whole;

  const DecodedQuantity& operator[](Quantity q) const { return quantities[index_of(q)]; }
  bool any_taken() const;
  /// Refused as a message: something was refused and nothing was taken.
  bool refused() const;
};

/// `wall_now` is nothing while our own clock is unset: then arrival counts. Allocates nothing for
/// bare numbers, and nothing beyond the parsed JSON for the others.
Decoded decode(const SensorPlan& plan, std::string_view payload, std::optional<WallTime> wall_now);

/// Whether a text is an RFC 6901 pointer: empty, or "/" and members with ~0 and ~1 as escapes.
bool valid_pointer(std::string_view pointer);

/// raw x scale + offset, then from the source's unit to the kept one. Not calibrated yet.
double kept_value(const QuantitySource& source, double raw);

/// A kept value through the source's calibration; a humidity stays within 0 and 100 %, a CO2 above
/// 0 ppm, for the line leads on beyond what there can be.
double calibrated(const QuantitySource& source, double kept);

/// Refusals by reason, a quantity each.
class RefusalCounts {
 public:
  void count(const Decoded& decoded);
  std::uint64_t of(Refusal refusal) const { return counts_[static_cast<std::size_t>(refusal)]; }
  std::uint64_t stamps() const { return stamps_; }
  std::uint64_t total() const;

 private:
  std::array<std::uint64_t, kRefusals> counts_{};
  std::uint64_t stamps_ = 0;
};

}  // namespace tubwarden
