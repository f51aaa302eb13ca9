// What the numbers of a message may measure, for somebody who has yet to write the sensor's lines:
// by the names in payload and topic, by unit words, by the value alone. A guess is shown and
// proposed; nothing is controlled by it. Threading: pure functions. Failure: none; what is no JSON
// and no number has no numbers.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/sensing/sensor_plan.hpp"

namespace tubwarden {

/// Numbers looked at in one message; a sensor of the trade has a handful.
inline constexpr std::size_t kGuessesMax = 32;

/// The keys of a sensor in the configuration.
enum class Measured { humidity, temperature, co2 };
std::string_view name_of(Measured what);

/// Where a thermometer stands, as far as a name says so.
enum class GuessedPlace { unsaid, air, substrate };

/// What a number may be.
struct Looks {
  Measured what = Measured::humidity;
  SensorUnit unit = SensorUnit::percent;
  double scale = 1.0;  ///< value = raw x scale: 100 for a humidity of 0.87
  /// Not sure: only the value speaks for it, or the name has other meanings as well.
  bool maybe = false;
  GuessedPlace place = GuessedPlace::unsaid;  ///< temperatures only
  bool operator==(const Looks&) const = default;
};

/// One number of a message.
struct NumberGuess {
  std::string at;  ///< RFC 6901; empty: the whole message
  double value = 0.0;
  bool quoted = false;  ///< JSON text that holds a number: decode() refuses it
  std::optional<Looks> looks;
};

struct MessageGuess {
  std::vector<NumberGuess> numbers;  ///< in the document's order, at most kGuessesMax
  std::size_t left_out = 0;          ///< numbers beyond those
};

/// Takes what decode() would take, within its limits of size and depth.
MessageGuess guess_numbers(std::string_view topic, std::string_view payload);

}  // namespace tubwarden
