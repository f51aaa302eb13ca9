// A sensor of the kernel's IIO subsystem through its files in sysfs: found, read, written as JSON.
// Threading: plain functions that read files; a driver may take seconds for one. Failure: an error
// that names the file and the kernel's word; the other quantities are read all the same.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::iio {

struct Device {
  std::filesystem::path folder;  ///< ".../iio:device0": counted at each boot
  std::string name;              ///< of the part: "scd41"
  std::string label;             ///< of this one, from the device tree; mostly empty
};

std::vector<Device> devices(const std::filesystem::path& root);

/// The one device whose folder, name or label it is. not_found: it may come; refused: there are
/// two.
Result<Device> find_device(const std::filesystem::path& root, const std::string& wanted);

struct Air {
  std::optional<double> humidity_pct, temperature_c, co2_ppm;
  std::vector<std::string> wrong;  ///< what is there and could not be read
  bool any() const { return humidity_pct || temperature_c || co2_ppm; }
};

/// Reads what the device has. Units are the kernel's (Documentation/ABI/testing/sysfs-bus-iio):
/// in_humidityrelative milli percent, in_temp milli degrees Celsius, in_concentration_co2 percent
/// of the air; `_input` as it is, `_raw` as (raw + offset) x scale. `before_each` is told of a file
/// that may take long.
Air read_air(const Device& device, void (*before_each)());

/// {"humidity_pct":87.31,"temperature_c":17.92,"co2_ppm":842}: what was read, and nothing else.
std::string payload(const Air& air);

}  // namespace tubwarden::iio
