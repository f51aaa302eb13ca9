// What is measured, and in which unit it is kept: % RH, degrees Celsius, ppm by volume.
// Threading: plain values. Failure: none.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

namespace tubwarden {

/// Air and substrate are two temperatures: they answer at other speeds and take other limits.
enum class Quantity : std::uint8_t { humidity, air_temperature, substrate_temperature, co2 };

inline constexpr std::size_t kQuantities = 4;
inline constexpr std::array<Quantity, kQuantities> kAllQuantities = {
    Quantity::humidity, Quantity::air_temperature, Quantity::substrate_temperature, Quantity::co2};

constexpr std::size_t index_of(Quantity q) { return static_cast<std::size_t>(q); }

/// The key of configuration and control socket: "humidity", "air_temperature", ...
std::string_view name_of(Quantity q);
/// The word in a sentence: "humidity", "air temperature", "substrate temperature", "CO2".
std::string_view word_of(Quantity q);
/// The unit behind a number: "%", "C", "ppm".
std::string_view unit_of(Quantity q);
/// A topic member with its unit last: "humidity_pct", "temperature_c", "substrate_c", "co2_ppm".
std::string_view member_of(Quantity q);

/// Fahrenheit to Celsius; exact for the fixed points 32 F and 212 F.
constexpr double celsius_from_fahrenheit(double f) { return (f - 32.0) / 1.8; }
constexpr double celsius_from_kelvin(double k) { return k - 273.15; }
/// Volume fraction: 1 % is 10,000 ppm.
constexpr double ppm_from_percent(double pct) { return pct * 10000.0; }

}  // namespace tubwarden
