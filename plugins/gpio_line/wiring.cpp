#include "gpio_line/wiring.hpp"

#include <charconv>
#include <optional>

namespace tubwarden::gpio {

namespace {

constexpr unsigned kOffsetMax = 65535;

Error not_allowed(const char* name, const std::string& value, const std::string& allowed) {
  return {ErrorCode::bad_input,
          "wiring: " + std::string(name) + " is '" + value + "'; allowed: " + allowed};
}

std::optional<unsigned> offset_of(const std::string& text) {
  unsigned value = 0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc() || rest != end || value > kOffsetMax) return std::nullopt;
  return value;
}

std::optional<Bias> bias_of(const std::string& word) {
  if (word == "as_is") return Bias::as_is;
  if (word == "none") return Bias::none;
  if (word == "pull_up") return Bias::pull_up;
  if (word == "pull_down") return Bias::pull_down;
  return std::nullopt;
}

std::optional<Drive> drive_of(const std::string& word) {
  if (word == "push_pull") return Drive::push_pull;
  if (word == "open_drain") return Drive::open_drain;
  if (word == "open_source") return Drive::open_source;
  return std::nullopt;
}

}  // namespace

Result<LineWiring> read_wiring(const OptionText& option) {
  const std::string line = option("line"), chip = option("chip"), offset = option("offset");
  const bool is_named = !line.empty() && chip.empty() && offset.empty();
  const bool is_counted = line.empty() && !chip.empty() && !offset.empty();
  if (!is_named && !is_counted) {
    return Error{ErrorCode::bad_input,
                 "wiring: give line (a line's name), or chip and offset, and not both"};
  }
  LineWiring wiring{{line, chip, 0}, {}};
  if (is_counted) {
    const auto number = offset_of(offset);
    if (!number) return not_allowed("offset", offset, "0 to 65535");
    wiring.wanted.offset = *number;
  }
  const std::string active_low = option("active_low");
  if (active_low != "true" && active_low != "false") {
    return not_allowed("active_low", active_low, "true, false");
  }
  wiring.manner.active_low = active_low == "true";
  const auto bias = bias_of(option("bias"));
  if (!bias) return not_allowed("bias", option("bias"), "as_is, none, pull_up, pull_down");
  const auto drive = drive_of(option("drive"));
  if (!drive) return not_allowed("drive", option("drive"), "push_pull, open_drain, open_source");
  wiring.manner.bias = *bias;
  wiring.manner.drive = *drive;
  return wiring;
}

}  // namespace tubwarden::gpio
