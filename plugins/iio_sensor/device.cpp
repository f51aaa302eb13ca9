#include "iio_sensor/device.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstring>
#include <string_view>

namespace tubwarden::iio {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t kDevicesMax = 64;

struct Text {
  std::string text;
  int error = 0;  ///< errno
};

Text read_text(const fs::path& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return {"", errno};
  std::array<char, 128> bytes{};
  const ssize_t size = ::read(file, bytes.data(), bytes.size());
  const int error = size < 0 ? errno : 0;
  ::close(file);
  std::string_view text(bytes.data(), size < 0 ? 0 : static_cast<std::size_t>(size));
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.remove_suffix(1);
  return {std::string(text), error};
}

bool is_there(const fs::path& path) { return ::access(path.c_str(), F_OK) == 0; }

Result<double> read_number(const fs::path& path) {
  const Text read = read_text(path);
  if (read.error != 0) {
    return Error{ErrorCode::unavailable, path.string() + ": " + std::strerror(read.error)};
  }
  double value = 0.0;
  const char* const end = read.text.data() + read.text.size();
  const auto [rest, error] = std::from_chars(read.text.data(), end, value);
  if (error != std::errc() || rest != end || !std::isfinite(value)) {
    return Error{ErrorCode::unavailable, path.string() + " says '" + read.text + "', not a number"};
  }
  return value;
}

/// Without a scale a raw value has no unit; a missing offset is 0.
Result<double> read_scaled(const fs::path& folder, const std::string& base) {
  const auto raw = read_number(folder / (base + "_raw"));
  if (!raw) return raw;
  const auto scale = read_number(folder / (base + "_scale"));
  if (!scale) return scale;
  const fs::path offset_file = folder / (base + "_offset");
  if (!is_there(offset_file)) return *raw * *scale;
  const auto offset = read_number(offset_file);
  if (!offset) return offset;
  return (*raw + *offset) * *scale;
}

/// Nothing when the device has no such channel.
std::optional<Result<double>> read_channel(const fs::path& folder, const std::string& base) {
  if (is_there(folder / (base + "_input"))) return read_number(folder / (base + "_input"));
  if (is_there(folder / (base + "_raw"))) return read_scaled(folder, base);
  return std::nullopt;
}

double rounded(double value, double steps) { return std::round(value * steps) / steps; }

}  // namespace

std::vector<Device> devices(const fs::path& root) {
  std::vector<Device> all;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(root, error)) {
    if (entry.path().filename().string().rfind("iio:device", 0) != 0) continue;
    if (all.size() >= kDevicesMax) break;
    all.push_back({entry.path(), read_text(entry.path() / "name").text,
                   read_text(entry.path() / "label").text});
  }
  std::sort(all.begin(), all.end(),
            [](const Device& a, const Device& b) { return a.folder < b.folder; });
  return all;
}

Result<Device> find_device(const fs::path& root, const std::string& wanted) {
  std::vector<Device> found;
  std::string told;
  for (const Device& device : devices(root)) {
    const std::string folder = device.folder.filename().string();
    told += (told.empty() ? "there are: " : ", ") + folder + " '" + device.name + "'" +
            (device.label.empty() ? "" : " '" + device.label + "'");
    if (wanted == folder || wanted == device.name || wanted == device.label) {
      found.push_back(device);
    }
  }
  if (told.empty()) told = root.string() + " shows no sensor";
  if (found.size() == 1) return found[0];
  if (found.empty()) {
    return Error{ErrorCode::not_found, "no sensor is '" + wanted + "'; " + told};
  }
  return Error{ErrorCode::refused, "more than one sensor is '" + wanted +
                                       "': give a label in the device tree, or the folder; " +
                                       told};
}

Air read_air(const Device& device, void (*before_each)()) {
  struct Channel {
    const char* base;
    double per_unit;  ///< of the kernel's unit in ours
    double steps;     ///< a unit is rounded to so many
    std::optional<double> Air::*value;
  };
  static constexpr std::array<Channel, 3> kChannels = {{
      {"in_humidityrelative", 1e-3, 1000, &Air::humidity_pct},
      {"in_temp", 1e-3, 1000, &Air::temperature_c},
      {"in_concentration_co2", 1e4, 10, &Air::co2_ppm},
  }};
  Air air;
  for (const Channel& channel : kChannels) {
    before_each();
    const auto read = read_channel(device.folder, channel.base);
    if (!read) continue;
    if (*read) {
      air.*channel.value = rounded(**read * channel.per_unit, channel.steps);
    } else {
      air.wrong.push_back(read->error().text);
    }
  }
  if (!air.any() && air.wrong.empty()) {
    air.wrong.push_back(device.folder.string() + ": '" + device.name +
                        "' has neither humidity, temperature nor CO2");
  }
  return air;
}

std::string payload(const Air& air) {
  std::string text;
  const auto add = [&](const char* name, const std::optional<double>& value) {
    if (value) text += fmt::format("{}\"{}\":{}", text.empty() ? "" : ",", name, *value);
  };
  add("humidity_pct", air.humidity_pct);
  add("temperature_c", air.temperature_c);
  add("co2_ppm", air.co2_ppm);
  return "{" + text + "}";
}

}  // namespace tubwarden::iio
